"""The pieces of learning notes: text as prose blocks, music as bars of a part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from kit.instruments.part import Part
from kit.lesson.prose import Block, Run

__all__ = ["NotesFigure", "NotesSection", "paragraph", "points"]


@dataclass(frozen=True, slots=True)
class NotesFigure:
    """Music inside the notes: bars of a part, by index, both ends included."""

    caption: str
    part: Part
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class NotesSection:
    """A heading with what stands under it; `steps` get boxes to tick."""

    heading: str
    blocks: tuple[Block, ...] = ()
    figures: tuple[NotesFigure, ...] = ()
    steps: tuple[tuple[Block, ...], ...] = field(default=())


def paragraph(text: str, *, strong: str = "") -> Block:
    """Make a paragraph, with a strong beginning if there is one."""
    runs: list[Run] = []
    if strong:
        runs.append({"kind": "strong", "runs": [{"kind": "text", "text": strong}]})
        text = f" {text}"
    return {"kind": "paragraph", "runs": [*runs, {"kind": "text", "text": text}]}


def points(texts: Iterable[str]) -> Block:
    """Make a list of short texts."""
    return {
        "kind": "list", "ordered": False, "start": 1, "tight": True,
        "items": [[paragraph(text)] for text in texts],
    }  # fmt: skip
