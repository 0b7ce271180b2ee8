"""How is a part drawn for the page, and how for paper?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from kit.engrave.drawing import Drawing, engrave_excerpt, engrave_lines
from kit.engrave.engraver import PAPER, PHONE, SCREEN
from kit.engrave.words import describe_bars
from kit.instruments.part import Part
from kit.publish.handout.notes import NotesFigure

__all__ = ["PaperScore", "notes_lines", "page_sheet", "paper_score", "sheet_words"]

_STAFF_SIZES_MM = (7.0, 6.7, 6.4, 6.1)
"""Music-stand sizes, the most comfortable first (common practice: 6 to 8 mm for parts)."""
_LARGE_STAFF_MM = 9.5
_NOTES_STAFF_MM = 5.6
_FILLED_FROM = 0.4
"""Four plain bars fill a line of the screen from this share of its width on."""
_WIDEST_GAP_MM = 9.0
_USUAL_GAP_MM = 4.0
_NARROWEST_GAP_MM = 0.6


@dataclass(frozen=True, slots=True)
class PaperScore:
    """Lines of music for paper.

    Parameters
    ----------
    lines : tuple of Drawing
        One picture a line.
    gap_mm : float
        Space between lines.
    fills_page : bool
        Whether the lines are to be spread over the rest of their page.
    """

    lines: tuple[Drawing, ...]
    gap_mm: float
    fills_page: bool


def page_sheet(part: Part, *, phone: bool = False) -> str:
    """Draw a whole sheet for a desk's or a telephone's screen, as SVG."""
    page = replace(PHONE if phone else SCREEN, fill_last_line=_FILLED_FROM)
    return engrave_excerpt(part, page=page).svg


def sheet_words(part: Part) -> list[str]:
    """Say a sheet bar by bar, at written pitch."""
    return list(describe_bars(part))


def paper_score(
    part: Part,
    *,
    first: int,
    last: int,
    width_mm: float,
    room_mm: float,
    large: bool = False,
) -> PaperScore:
    """Draw some bars for paper, on one page if they fit it comfortably.

    Parameters
    ----------
    part : Part
        At written pitch.
    first, last : int
        Indices of bars, both included.
    width_mm, room_mm : float
        Width of the lines, and height left on the page.
    large : bool
        Large print: bigger staves, two bars a line.
    """
    page = replace(PAPER, width_mm=width_mm)
    if large:
        page = replace(page, staff_mm=_LARGE_STAFF_MM, bars_per_line=2, fill_last_line=0.3)
        lines = engrave_lines(part, first=first, last=last, page=page)
        return PaperScore(lines, _USUAL_GAP_MM, fills_page=False)
    for staff_mm in _STAFF_SIZES_MM:
        fitted = replace(page, staff_mm=staff_mm)
        lines = engrave_lines(part, first=first, last=last, page=fitted)
        gap = _gap_mm(lines, room_mm)
        if gap >= _NARROWEST_GAP_MM:
            fills = gap <= _WIDEST_GAP_MM
            return PaperScore(lines, gap if fills else _USUAL_GAP_MM, fills_page=fills)
    lines = engrave_lines(part, first=first, last=last, page=page)
    return PaperScore(lines, _USUAL_GAP_MM / 2, fills_page=False)


def notes_lines(figure: NotesFigure, width_mm: float, large: bool) -> tuple[Drawing, ...]:
    """Draw music that stands among the learning notes, smaller than the part itself."""
    staff_mm = _LARGE_STAFF_MM if large else _NOTES_STAFF_MM
    page = replace(
        PAPER, width_mm=width_mm, staff_mm=staff_mm, sections=False, fill_last_line=0.0
    )
    return engrave_lines(figure.part, first=figure.first, last=figure.last, page=page)


def _gap_mm(lines: Sequence[Drawing], room_mm: float) -> float:
    """Give the space that would be between the lines if they filled the room."""
    return (room_mm - sum(line.height_mm for line in lines)) / max(1, len(lines) - 1)
