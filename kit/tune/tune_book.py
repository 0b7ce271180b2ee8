"""Which tunes does a book hold, and what is one of them by itself?

A book is an ABC file with several tunes, each under its own ``X:``. Files of the other
notations hold one tune.
"""

from __future__ import annotations

from pathlib import Path

from kit.tune.abc.book import BookTune, book_tunes, tune_text
from kit.tune.read import bytes_of
from kit.tune.source_text import decoded

__all__ = ["BookTune", "tune_alone", "tunes_in"]

_OTHER_STARTS = (b"<", b"PK\x03\x04", b"MThd", b"RIFF")
"""With which MusicXML and MIDI begin, whatever the file is called."""


def tunes_in(path: Path) -> tuple[BookTune, ...]:
    """List the tunes of an ABC file; none for another notation.

    Raises
    ------
    NotationError
        If the file is not there, too large or empty.
    """
    if path.suffix.lower() != ".abc":
        return ()
    data = bytes_of(path, path.name)
    if data.lstrip().startswith(_OTHER_STARTS):
        return ()
    return book_tunes(decoded(data))


def tune_alone(path: Path, tune_number: int) -> str:
    """Give one tune of an ABC file as the text of a file of its own.

    Raises
    ------
    NotationError
        If the file cannot be read, or holds no tune of that number.
    """
    data = bytes_of(path, path.name)
    return tune_text(decoded(data), tune_number, source=path.name)
