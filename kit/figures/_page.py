"""What does a page ask of a figure, and how does it get two widths of one?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from kit.figures.figure import Figure
from kit.lesson.lesson import Lesson

__all__ = ["Asked", "in_two_widths"]


@dataclass(frozen=True, slots=True)
class Asked:
    """A figure of the notebook, to be drawn again for a reader.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    options : mapping
        What the notebook's call says; what it leaves open is not in it.
    level : str
        The level that the call names, or else the reader's.
    instrument : str
        The reader's.
    among : sequence of str
        The levels that may be shown at all.
    """

    lesson: Lesson
    options: Mapping[str, Any]
    level: str
    instrument: str
    among: Sequence[str]


class _Drawn(Protocol):
    """Draws with so many bars in a line; None is as many as fit."""

    def __call__(self, *, bars_per_line: Any) -> Figure: ...


def in_two_widths(draw: _Drawn, *, desk: int | None = 4, telephone: int = 2) -> str:
    """Put a figure's two widths side by side; the style sheet shows one of them."""
    wide, narrow = draw(bars_per_line=desk).html, draw(bars_per_line=telephone).html
    return f'<div class="wide">{wide}</div><div class="narrow">{narrow}</div>'
