"""What lies beside a page for it to fetch: notation, sound and the stretcher, as scripts.

A page opened from disk may read a file beside it only by running it as a script. So each
such file is a script of lines ``lessonKit.put("name","base64");``, which a page on a site
reads as text, line by line. The one file that can be mailed holds the same lines inside.

====================================== =================================================
``page/<level>-<instrument>.js``       notation, and the figures of the text for it
``page/stretch.js``                    what plays the band at other tempos
``audio/<level>-band.js``              bass, chords, drums and count-in, each alone
``audio/<level>-melody-<slug>.js``     the melody as an instrument plays it
====================================== =================================================
"""

from __future__ import annotations

import base64
import gzip
import json
import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import zip_longest

from kit.publish._html_files import asset
from kit.tracks.stems import Stem

__all__ = [
    "STRETCH_PATH",
    "band_path",
    "melody_path",
    "pack_file",
    "pack_of",
    "pack_path",
    "stems_file",
    "stretch_file",
]

STRETCH_PATH = "page/stretch.js"
_LINE = re.compile(rb'lessonKit\.put\("([^"]*)","([A-Za-z0-9+/=]*)"\);\n')


def pack_path(level: str, instrument: str) -> str:
    """Name the file of a level's notation for an instrument."""
    return f"page/{level}-{instrument}.js"


def band_path(level: str) -> str:
    """Name the file of a level's band."""
    return f"audio/{level}-band.js"


def melody_path(level: str, instrument: str) -> str:
    """Name the file of a level's melody as an instrument plays it."""
    return f"audio/{level}-melody-{instrument}.js"


def pack_file(name: str, pack: str) -> bytes:
    """Write a pack (`kit.publish.page.packs.packed`) as a file."""
    return _line(name, pack)


def pack_of(file: bytes) -> str:
    """Give the pack of such a file, as base64.

    Raises
    ------
    ValueError
        If it is none.
    """
    line = _LINE.fullmatch(file)
    if line is None:
        raise ValueError("this is no file of one pack")
    return line[2].decode("ascii")


@cache
def stretch_file() -> bytes:
    """Write the stretcher as a file, its licence with it."""
    text = asset("vendor/stretch.js").encode()
    packed = gzip.compress(text, 9, mtime=0)
    return _line("stretch", base64.b64encode(packed).decode("ascii"))


def stems_file(level: str, stems: Iterable[Stem]) -> bytes:
    """Write stems as a file: first what is in it, then the pieces in the order of time.

    Parameters
    ----------
    level : str
        Whose.
    stems : iterable of Stem
        The players.
    """
    from kit.sound.stem_pieces import first_sample  # noqa: PLC0415 - needs numpy

    stems = tuple(stems)
    most = max((len(stem.pieces) for stem in stems), default=0)
    head = {
        "starts": [first_sample(number) for number in range(most + 1)],
        "pieces": {stem.player: len(stem.pieces) for stem in stems},
    }
    text = base64.b64encode(json.dumps(head).encode()).decode("ascii")
    return b"".join([_line(level, text), *_pieces(level, stems)])


def _pieces(level: str, stems: tuple[Stem, ...]) -> Iterator[bytes]:
    for number, row in enumerate(zip_longest(*(stem.pieces for stem in stems))):
        for stem, piece in zip(stems, row, strict=True):
            if piece is not None:
                text = base64.b64encode(piece).decode("ascii")
                yield _line(f"{level}/{stem.player}/{number}", text)


def _line(name: str, text: str) -> bytes:
    return f'lessonKit.put("{name}","{text}");\n'.encode("ascii")
