"""What tune does this file hold, whatever notation it is in?

The content decides how a file is read; the suffix only has to be one of ours. Sizes are
checked before anything is opened.

* ``.musicxml``, ``.xml``: MusicXML; ``.mxl``: compressed MusicXML
* ``.abc``: ABC
* ``.mid``, ``.midi``: Standard MIDI File
* ``.krn``, ``.mei``, ``.musedata`` and others: through music21 (`kit.tune.music21.read`)
"""

from __future__ import annotations

from pathlib import Path

from kit.errors import NotationError
from kit.reading import read_bytes, told
from kit.tune.abc.read import read_abc
from kit.tune.midi.read import read_midi
from kit.tune.model import Tune
from kit.tune.music21.read import FOREIGN_SUFFIXES, format_of, read_foreign
from kit.tune.musicxml.mxl import read_mxl
from kit.tune.musicxml.read import read_musicxml
from kit.tune.source_text import decoded

__all__ = ["SUFFIXES", "bytes_of", "is_foreign", "read_tune"]

SUFFIXES = (".musicxml", ".xml", ".mxl", ".abc", ".mid", ".midi", *FOREIGN_SUFFIXES)
MAX_FILE_BYTES = 20_000_000
_XML_STARTS = (b"<", b"\xef\xbb\xbf<", b"\xff\xfe<", b"\xfe\xff\x00<")


def read_tune(
    path: Path,
    *,
    name: str | None = None,
    part: str | None = None,
    tune_number: int | None = None,
    keep_uneven: bool = False,
) -> Tune:
    """Read a tune from a file.

    Parameters
    ----------
    path : Path
        A file of one of the notations above.
    name : str, optional
        What messages call the file; without it, its own name.
    part : str, optional
        The melody part of a score with several.
    tune_number : int, optional
        The number of the tune in an ABC file with several (`kit.tune.abc.book`).
    keep_uneven : bool
        Whether a bar that does not add up is given the meter it fills, not refused.

    Raises
    ------
    NotationError
        If the file is not there, too large, no notation, damaged or musically wrong; an
        `UnevenBarError` if a bar does not add up.
    """
    path = Path(path)
    source = name or path.name
    if path.suffix.lower() not in SUFFIXES:
        raise NotationError(
            f'"{path.suffix}" is not the suffix of a notation file',
            file=source,
            remedy=f"use one of {', '.join(SUFFIXES)}",
        )
    data = bytes_of(path, source)
    if data.startswith(b"PK\x03\x04"):
        data = read_mxl(data, source=source)
        return read_musicxml(data, source=source, part=part, keep_uneven=keep_uneven)
    if data.startswith((b"MThd", b"RIFF")):
        return read_midi(data, source=source, part=part)
    foreign = format_of(data, path.suffix.lower())
    if foreign is not None:
        return read_foreign(
            data, foreign, source=source, part=part, keep_uneven=keep_uneven
        )
    if data.lstrip().startswith(_XML_STARTS):
        return read_musicxml(data, source=source, part=part, keep_uneven=keep_uneven)
    if path.suffix.lower() == ".abc":
        return read_abc(
            decoded(data), source=source, tune_number=tune_number, keep_uneven=keep_uneven
        )
    raise NotationError(
        f"its content is not what its suffix {path.suffix} says",
        file=source,
        remedy="export it again from your notation program",
    )


def is_foreign(path: Path) -> bool:
    """Say whether a file that `read_tune` reads goes through music21.

    Raises
    ------
    NotationError
        If it cannot be read.
    """
    return format_of(bytes_of(path, path.name), path.suffix.lower()) is not None


def bytes_of(path: Path, source: str) -> bytes:
    """Read a notation file whole.

    Raises
    ------
    NotationError
        If it is not there, too large or empty.
    """
    with told(source, NotationError):
        data = read_bytes(path, limit_bytes=MAX_FILE_BYTES)
    if not data.strip():
        raise NotationError("the file is empty", file=source, remedy="export it again")
    return data
