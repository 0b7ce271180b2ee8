"""Which good files are made hostile? The demo lessons, old collections, tunes by rule.

The traditional tunes are those of `school_maker`, from four printed collections; scores in
several parts are chorales of the eighteenth century, both from music21's corpus. Tunes made
by rule (`abc_by_rule`, `midi_by_rule`) hold what those lack.
"""

from __future__ import annotations

import json
import struct
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice
from pathlib import Path
from random import Random
from typing import Any

from edits_at_random import edit, first_draft
from fuzz_bytes import zipped
from school_maker import corpus_tunes

from kit.errors import KitError
from kit.tune.abc.read import read_abc
from kit.tune.musicxml.write import write_musicxml

__all__ = [
    "Good",
    "abc_by_rule",
    "good",
    "lesson_files",
    "midi_by_rule",
    "mxl_of",
    "small_lesson",
]

DEMOS = Path(__file__).resolve().parents[2] / "lessons"
CONTAINER = (
    b'<container><rootfiles><rootfile full-path="score.xml" '
    b'media-type="application/vnd.recordare.musicxml+xml"/></rootfiles></container>'
)


@dataclass(frozen=True, slots=True)
class Good:
    """Good files by format."""

    abc: tuple[bytes, ...]
    musicxml: tuple[bytes, ...]
    mxl: tuple[bytes, ...]
    edits: tuple[bytes, ...]
    demos: tuple[dict[bytes, bytes], ...]


@lru_cache
def good() -> Good:
    """Read the good files, once."""
    import music21

    # Every seventh: collections are in alphabetical order.
    texts = [text for text, *_ in islice(corpus_tunes(), 0, 3500, 7)]
    scores = []
    for text in texts[::12]:
        try:
            scores.append(write_musicxml(read_abc(text, source="tune.abc")).encode())
        except KitError:
            continue
    chorales = Path(music21.__file__).parent / "corpus" / "bach"
    packed = sorted(
        chorales.glob("*.mxl"), key=lambda path: (path.stat().st_size, path.name)
    )
    demos = tuple(
        {
            path.relative_to(folder).as_posix().encode(): path.read_bytes()
            for path in sorted(folder.rglob("*"))
            if path.is_file() and ".ipynb_checkpoints" not in path.parts
        }
        for folder in sorted(DEMOS.iterdir())
        if (folder / "lesson.toml").is_file()
    )
    own = [
        data for demo in demos for name, data in demo.items() if name.endswith(b".musicxml")
    ]
    return Good(
        abc=(*(text.encode() for text in texts), *_abc_of(demos)),
        musicxml=(*scores, *own * 5),
        mxl=(*(path.read_bytes() for path in packed[:40]), *map(mxl_of, scores[:20])),
        edits=tuple(
            data
            for demo in demos
            for name, data in demo.items()
            if name.startswith(b"levels/") and name.endswith(b".toml")
        ),
        demos=demos,
    )


def _abc_of(demos: tuple[dict[bytes, bytes], ...]) -> list[bytes]:
    return [data for demo in demos for name, data in demo.items() if name.endswith(b".abc")]


def mxl_of(score: bytes) -> bytes:
    """Pack a score as compressed MusicXML."""
    return zipped([("META-INF/container.xml", CONTAINER), ("score.xml", score)])


def small_lesson(chance: Random, *, plain: bool = False) -> dict[bytes, bytes]:
    """Give the files of a lesson: a demo's, or one of a few bars with anything in it."""
    if not plain and chance.random() < 0.2:
        return dict(chance.choice(good().demos))
    draft = first_draft(chance, "lesson")
    for _ in range(0 if plain else chance.randint(0, 8)):
        edit(chance, draft)
    return {name.encode(): data for name, data in draft.files().items()}


def lesson_files(folder: bytes, files: dict[bytes, bytes]) -> dict[bytes, Any]:
    """Put a lesson's files below a folder."""
    return {folder + b"/" + name: data for name, data in files.items()}


def plain_toml(tune: str, *, levels: str = "", more: str = "") -> bytes:
    """Write the lesson.toml of a lesson that has little but its tune."""
    return (
        f'title = "Small Tune"\ntune = {json.dumps(tune)}\n'
        f'instruments = ["tenor-sax"]\n{more}\n[rights]\nbasis = "own work"\n'
        '[audio]\nmixes = ["click"]\n'
        f'[[levels]]\nname = "easy"\ntempo = 200\n{levels}\n'
    ).encode()


def plain_notebook(cells: list[Any] | None = None) -> dict[str, Any]:
    """Give the notebook of a lesson that has little but its tune."""
    first = {
        "cell_type": "code", "id": "c0", "metadata": {}, "outputs": [],
        "execution_count": None, "source": "import kit\nlesson = kit.open_lesson()",
    }  # fmt: skip
    words = {"cell_type": "markdown", "id": "c1", "metadata": {}, "source": "Listen first."}
    return {
        "cells": [first, *(cells if cells is not None else [words])],
        "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
    }  # fmt: skip


KEYS = (
    "C",
    "G",
    "F#",
    "Bb",
    "Cb",
    "Am",
    "Ddor",
    "Emix",
    "A phrygian",
    "C#m",
    "none",
    "HP",
    "D exp _B",
)
METERS = (
    "4/4",
    "3/4",
    "6/8",
    "C|",
    "C",
    "5/4",
    "7/8",
    "12/8",
    "9/8",
    "2/2",
    "none",
    "3+2/8",
)


def abc_by_rule(chance: Random) -> bytes:
    """Write an ABC tune with a share of everything that ABC has."""
    lines = [
        "X:1", "T:Tune by rule", f"M:{chance.choice(METERS)}", "L:1/8",
        f"Q:1/4={chance.randint(20, 400)}", f"K:{chance.choice(KEYS)}",
    ]  # fmt: skip
    for _ in range(chance.randint(1, 6)):
        line = " | ".join(_abc_bar(chance) for _ in range(chance.randint(1, 5)))
        lines.append(
            chance.choice(("", "|:", "[|"))
            + line
            + chance.choice((" |", ":|", "|1 c8 :|2 d8 |]", "|]"))
        )
        if chance.random() < 0.3:
            lines.append("w: la la_ la-la * lo~ve \\- |")
        if chance.random() < 0.2:
            lines.append(
                chance.choice(
                    (
                        "P:B",
                        "[K:Eb]",
                        "M:3/4",
                        "V:2",
                        "%%text hi",
                        "s: !trill!",
                        "I:linebreak $",
                    )
                )
            )
    return ("\n".join(lines) + "\n").encode()


def _abc_bar(chance: Random) -> str:
    pieces = (
        "c2", "d2", "e/f/g", "(3abc", "z2", "[ce]2", '"Am7"A2', "{g}f2", "!fermata!g2",
        "^c_B=A", "c>d", "G-G", "(ab)", "x2", "B,,2", "c''2", '"@1,2 words"c', "~e2", ".f2",
        "(5cdefg", "c3/2d/", "Z",
    )  # fmt: skip
    return " ".join(chance.choice(pieces) for _ in range(chance.randint(1, 5)))


def midi_by_rule(chance: Random) -> bytes:
    """Write a MIDI file of a melody, with or without running status and a second track."""
    division = chance.choice((96, 120, 480, 960))
    tempo, meter = b"\x00\xff\x51\x03\x07\xa1\x20", b"\x00\xff\x58\x04\x04\x02\x18\x08"
    head = tempo + meter + b"\x00\xff\x59\x02\x00\x00"
    body = bytearray(head + b"\x00\xff\x03\x04Lead")
    running = chance.random() < 0.5
    for number in range(chance.randint(4, 60)):
        key = chance.randint(55, 80)
        length = division * chance.choice((1, 1, 2)) // chance.choice((1, 2))
        status = b"" if running and number else b"\x90"
        body += b"\x00" + status + bytes([key, 80])
        body += _length(length) + (b"" if running else b"\x80") + bytes([key, 0])
    tracks = [bytes(body) + b"\x00\xff\x2f\x00"] * chance.choice((1, 1, 2, 3))
    return midi_file(tracks, division=division)


def midi_file(tracks: list[bytes], *, division: int, kind: int = 1) -> bytes:
    """Put tracks into a file."""
    head = b"MThd" + struct.pack(">IHHH", 6, kind, len(tracks), division & 0xFFFF)
    return head + b"".join(b"MTrk" + struct.pack(">I", len(t)) + t for t in tracks)


def _length(value: int) -> bytes:
    digits = [value & 0x7F]
    while value := value >> 7:
        digits.append(0x80 | (value & 0x7F))
    return bytes(reversed(digits))
