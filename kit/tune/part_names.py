"""Which parts may a teacher choose as the melody?

Parts without notes are left out. ABC files have one tune line for the reader: the first
voice.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from kit.tune.midi.events import read_events
from kit.tune.music21.read import foreign_part_names, format_of
from kit.tune.musicxml.mxl import read_mxl
from kit.tune.musicxml.read_parts import score_parts, strip_namespaces
from kit.tune.musicxml.xml_tree import parse_xml
from kit.tune.read import bytes_of

__all__ = ["part_names"]


def part_names(path: Path) -> tuple[str, ...]:
    """Name the parts with notes of a file that `read_tune` has read.

    Parameters
    ----------
    path : Path
        A file of any notation that `read_tune` reads.

    Raises
    ------
    NotationError
        If the file is damaged.
    """
    data = bytes_of(path, path.name)
    if data.startswith((b"MThd", b"RIFF")):
        lines = read_events(data, source=path.name).lines
        return _once(line.name for line in lines if line.notes)
    if data.startswith(b"PK\x03\x04"):
        data = read_mxl(data, source=path.name)
    foreign = format_of(data, path.suffix.lower())
    if foreign is not None:
        return foreign_part_names(data, foreign, source=path.name)
    if path.suffix.lower() == ".abc" and not data.lstrip().startswith(b"<"):
        return ()
    root = parse_xml(data, source=path.name)
    strip_namespaces(root)
    parts = score_parts(root, source=path.name)
    return _once(part.name or part.id for part in parts if part.notes)


def _once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))
