"""Two versions of the same bars, one staff above the other, aligned beat by beat.

Both staves are one score to the engraver, so that every bar line and beat of the lower one
stands exactly under that of the upper one.

Conventions
-----------
* The ids of the lower staff and of the bars are the usual ones; those of the upper staff
  begin with `ABOVE` (``sb3n0`` is the note ``b3n0`` of the upper part).
* Chord symbols stand over both staves, or once over the upper one if they are the same.
"""

from __future__ import annotations

import re
from dataclasses import replace

from kit.engrave._svg import finish
from kit.engrave._svg_shapes import CURVES
from kit.engrave.drawing import Drawing
from kit.engrave.engraver import SCREEN, Page, draw
from kit.engrave.words import describe_bars
from kit.form.wording import stretch_words
from kit.instruments.part import Part
from kit.tune.lines import line_starts
from kit.tune.model import Tune, bar_id, note_id
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.musicxml.write_marks import chord_id

__all__ = ["ABOVE", "engrave_pair"]

ABOVE = "s"
"""What the ids of the upper staff begin with."""

_MM_PER_PX = 25.4 / 96
_SYMBOL_ID = re.compile(r'(\bid=")(b\d+[a-z]\d)')
_PART = re.compile(r'<part id="P1">.*?</part>', re.DOTALL)
_LISTED = re.compile(r'<score-part id="P1">.*?</score-part>', re.DOTALL)


def engrave_pair(
    upper: Part,
    lower: Part,
    *,
    first: int = 0,
    last: int | None = None,
    page: Page = SCREEN,
) -> Drawing:
    """Draw the same bars of two parts under one another.

    Parameters
    ----------
    upper, lower : Part
        At written pitch, over the same bars.
    first, last : int
        Indices of the first and last bar; all bars without them.
    page : Page
        Its sizes.

    Raises
    ------
    ValueError
        If there is no such bar in one of them.
    """
    above, below = _cut(upper.tune, first, last), _cut(lower.tune, first, last)
    same_changes = _chords(above) == _chords(below)
    if same_changes:
        below = replace(below, bars=tuple(replace(b, chords=()) for b in below.bars))
    starts = line_starts(above.bars, page.bars_per_line)
    if len(starts) == 1 and len(above.bars) < page.bars_per_line:
        share = (len(above.bars) + 0.35) / (page.bars_per_line + 0.35)
        page = replace(page, width_mm=page.width_mm * share, fill_last_line=0.0)
    elif len(above.bars) - starts[-1] >= page.bars_per_line:
        # However thin its notes, a line with all its bars goes the whole width.
        page = replace(page, fill_last_line=0.0)
    top = _SYMBOL_ID.sub(rf"\g<1>{ABOVE}\2", _musicxml(above, upper, page, first))
    bottom = _musicxml(below, lower, replace(page, sections=False), first)
    (svg,) = draw(_joined(top, bottom), page, one_line_each=False)
    end = first + len(above.bars) - 1
    curves = _curves(below, first) | {
        f"{ABOVE}{name}": kinds for name, kinds in _curves(above, first).items()
    }
    label = f"Two staves, {_place(upper.tune, first, end)}, {upper.instrument.name}"
    finished = finish(
        svg,
        label=label,
        width_px_per_unit=page.mm_per_unit / _MM_PER_PX,
        curves=curves,
        chord_ids={
            bar_id(first + place): (
                *(f"{ABOVE}{chord_id(first + place, k)}" for k in range(len(bar.chords))),
                *(chord_id(first + place, k) for k in range(len(below.bars[place].chords))),
            )
            for place, bar in enumerate(above.bars)
        },
        numbers=_numbers(above, first),
    )
    return Drawing(
        svg=finished.svg,
        width_mm=finished.width * page.mm_per_unit,
        height_mm=finished.height * page.mm_per_unit,
        first=first,
        last=end,
        label=label,
        description=describe_bars(lower, first=first, last=end),
    )


def _cut(tune: Tune, first: int, last: int | None) -> Tune:
    """Take the bars out, the chord in force with them."""
    end = len(tune.bars) - 1 if last is None else last
    if not 0 <= first <= end < len(tune.bars):
        raise ValueError(f"there are no bars {first} to {end}; there are {len(tune.bars)}")
    chosen = list(tune.bars[first : end + 1])
    # Cut out, it would have no chord until the next change.
    chosen[0] = replace(chosen[0], chords=tune.chords_in_force(first))
    return replace(tune, bars=tuple(chosen))


def _curves(cut: Tune, first: int) -> dict[str, tuple[str, ...]]:
    return {
        note_id(first + place, position): kinds
        for place, bar in enumerate(cut.bars)
        for position, note in enumerate(bar.notes)
        if (kinds := tuple(mark for mark in note.marks if mark in CURVES))
    }


def _numbers(cut: Tune, first: int) -> dict[str, str]:
    """Give the printed number for each bar that a line may begin with."""
    return {
        bar_id(first + place): str(bar.number)
        for place, bar in enumerate(cut.bars)
        if first + place and not bar.pickup
    }


def _chords(tune: Tune) -> list[object]:
    return [bar.chords for bar in tune.bars]


def _place(tune: Tune, first: int, last: int) -> str:
    start, end = tune.bars[first].number, tune.bars[last].number
    return stretch_words(start, end)


def _musicxml(cut: Tune, part: Part, page: Page, first: int) -> str:
    layout = Layout(
        bars_per_line=page.bars_per_line,
        sections=page.sections,
        tempo=False,
        chord_degrees=False,
        first_index=first,
    )
    nameless = replace(cut, part_name="")
    return write_musicxml(nameless, clef=part.instrument.clef, layout=layout)


def _joined(top: str, bottom: str) -> str:
    """Make one score of two scores with one part each."""
    part, listed = _PART.search(bottom), _LISTED.search(top)
    assert part is not None
    assert listed is not None
    second = listed[0].replace('"P1"', '"P2"')
    score = top.replace(listed[0], f"{listed[0]}{second}", 1)
    under = part[0].replace('<part id="P1">', '<part id="P2">', 1)
    return score.replace("</score-partwise>", f"{under}</score-partwise>")
