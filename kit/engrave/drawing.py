"""Parts as pictures: an excerpt in one piece, or line by line for a printed page.

Conventions
-----------
* Bars are named by their index on the sheet, both ends included.
* Notes, rests, bars and chord symbols bear ``data-id`` (`kit.tune.model.note_id` and so
  on), the same in every key and on every build.
* Sizes are millimetres; a screen counts 96 pixels to the inch (CSS).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from kit.engrave._svg import FinishedSvg, finish
from kit.engrave._svg_shapes import CURVES
from kit.engrave._svg_swing import is_swung
from kit.engrave.engraver import PAPER, SCREEN, Page, draw
from kit.engrave.words import describe_bars
from kit.form.wording import stretch_words
from kit.instruments.part import Part
from kit.tune.lines import line_starts
from kit.tune.model import Bar, Tune, bar_id, note_id
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.musicxml.write_marks import chord_id

__all__ = ["Drawing", "engrave_excerpt", "engrave_lines"]

_MM_PER_PX = 25.4 / 96
_SMALLER = (1.0, 0.92, 0.84, 0.76)
"""Shares of the staff's size to try where bars are too full for their line."""
_BAR_ID = re.compile(r'id="b(\d+)"')
_BLANKS = 4
_SWING_BLANKS = 24
"""Room, in blanks, behind a tempo mark for what is drawn wider or added here."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture of some bars.

    Parameters
    ----------
    svg : str
        A complete ``svg`` element, to be put into a page or a file as it is.
    width_mm, height_mm : float
        Natural size.
    first, last : int
        Indices of its bars, both included.
    label : str
        What it shows, in a few words (also the picture's ``aria-label``).
    description : tuple of str
        One sentence per bar.
    """

    svg: str
    width_mm: float
    height_mm: float
    first: int
    last: int
    label: str
    description: tuple[str, ...]


def engrave_excerpt(
    part: Part, *, first: int = 0, last: int | None = None, page: Page = SCREEN
) -> Drawing:
    """Draw some bars, or all, as one picture.

    Parameters
    ----------
    part : Part
        At written pitch.
    first, last : int
        Indices of the first and last bar; all bars without them.
    page : Page
        Its sizes; `SCREEN`, `PHONE` or one of your own.

    Raises
    ------
    ValueError
        If there is no such bar.
    """
    cut = _cut(part, first, last)
    starts = line_starts(cut.bars, page.bars_per_line)
    if len(starts) == 1 and len(cut.bars) < page.bars_per_line:
        # A few bars keep their usual width instead of being stretched over the page.
        share = (len(cut.bars) + 0.35) / (page.bars_per_line + 0.35)
        page = replace(page, width_mm=page.width_mm * share, fill_last_line=0.0)
    page = _filled(page, cut, starts)
    (svg,) = draw(_written(cut, part, page, first), page, one_line_each=False)
    return _drawing(svg, part, page, first, first + len(cut.bars) - 1)


def engrave_lines(
    part: Part, *, first: int = 0, last: int | None = None, page: Page = PAPER
) -> tuple[Drawing, ...]:
    """Draw some bars, or all, one picture per line of music.

    Where bars are too full for their line the staves are made smaller; where that is not
    enough the line is broken.

    Parameters and errors are those of `engrave_excerpt`.

    Returns
    -------
    tuple of Drawing
        One for each line, in order; together they have all the bars.
    """
    cut = _cut(part, first, last)
    breaks = line_starts(cut.bars, page.bars_per_line)
    page = _filled(page, cut, breaks)
    score = _written(cut, part, page, first)
    for share in _SMALLER:
        sized = replace(page, staff_mm=page.staff_mm * share)
        svgs = draw(score, sized, one_line_each=True)
        if len(svgs) == len(breaks):
            break
    page = sized
    starts = [_first_bar(svg) for svg in svgs]
    ends = [*(start - 1 for start in starts[1:]), first + len(cut.bars) - 1]
    return tuple(
        _drawing(svg, part, page, start, end)
        for svg, start, end in zip(svgs, starts, ends, strict=True)
    )


def _first_bar(svg: str) -> int:
    match = _BAR_ID.search(svg)
    assert match is not None, "every line has a bar"
    return int(match[1])


def _filled(page: Page, cut: Tune, starts: Sequence[int]) -> Page:
    """Stretch a last line that has all the bars of a line, however thin they are."""
    full = sum(not bar.pickup for bar in cut.bars[starts[-1] :])
    return replace(page, fill_last_line=0.0) if full >= page.bars_per_line else page


def _cut(part: Part, first: int, last: int | None) -> Tune:
    """Take the bars out, the chord in force and the tempo with them."""
    bars = part.tune.bars
    end = len(bars) - 1 if last is None else last
    if not 0 <= first <= end < len(bars):
        raise ValueError(f"there are no bars {first} to {end}; there are {len(bars)}")
    chosen = list(bars[first : end + 1])
    if first and (not chosen[0].chords or chosen[0].chords[0].onset > 0):
        chosen[0] = replace(chosen[0], chords=part.tune.chords_in_force(first))
    return replace(part.tune, bars=tuple(chosen))


def _written(cut: Tune, part: Part, page: Page, first: int) -> str:
    layout = Layout(
        bars_per_line=page.bars_per_line,
        sections=page.sections,
        tempo=first == 0,
        chord_degrees=False,
        first_index=first,
        tempo_blanks=(_SWING_BLANKS if is_swung(cut.feel) else _BLANKS, _BLANKS),
    )
    # The instrument's name stands in the heading, not before the first staff.
    nameless = replace(cut, part_name="")
    return write_musicxml(nameless, clef=part.instrument.clef, layout=layout)


def _drawing(svg: str, part: Part, page: Page, first: int, last: int) -> Drawing:
    label = _label(part, first, last)
    bars = part.tune.bars
    finished: FinishedSvg = finish(
        svg,
        label=label,
        width_px_per_unit=page.mm_per_unit / _MM_PER_PX,
        curves=_curves(bars, first, last),
        chord_ids={
            bar_id(index): tuple(chord_id(index, k) for k in range(len(bars[index].chords)))
            for index in range(first, last + 1)
        },
        numbers=_numbers(bars, first, last),
        swing=first == 0 and is_swung(part.tune.feel),
    )
    return Drawing(
        svg=finished.svg,
        width_mm=finished.width * page.mm_per_unit,
        height_mm=finished.height * page.mm_per_unit,
        first=first,
        last=last,
        label=label,
        description=describe_bars(part, first=first, last=last),
    )


def _label(part: Part, first: int, last: int) -> str:
    start, end = part.tune.bars[first], part.tune.bars[last]
    if start.pickup:
        place = "pick-up" if first == last else f"pick-up and bars to {end.number}"
    else:
        place = stretch_words(start.number, end.number)
    title = f"{part.tune.title}, " if part.tune.title else ""
    return f"{title}{place}, {part.instrument.name}"


def _numbers(bars: Sequence[Bar], first: int, last: int) -> dict[str, str]:
    """Give the number that a line shows if it begins with a bar.

    A pick-up leads into the bar behind it and shows that one's number. The tune's first
    line shows none.
    """
    shown: dict[str, str] = {}
    for index in range(max(first, 1), last + 1):
        at = index + 1 if bars[index].pickup and index < last else index
        shown[bar_id(index)] = str(bars[at].number)
    return shown


def _curves(bars: Sequence[Bar], first: int, last: int) -> dict[str, tuple[str, ...]]:
    return {
        note_id(index, position): kinds
        for index in range(first, last + 1)
        for position, note in enumerate(bars[index].notes)
        if (kinds := tuple(mark for mark in note.marks if mark in CURVES))
    }
