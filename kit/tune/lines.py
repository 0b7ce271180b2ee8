"""Where a new line of music begins.

Conventions
-----------
* A section begins a line, its pick-up with it. Within a section lines have the asked
  number of bars; a single bar is never left over, it joins the line before.
* A line too full to read at that width is halved.
* Indices are those of `Tune.bars`.

Source: common practice of lead sheets.
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.tune.model import Bar

__all__ = ["line_starts"]

FULL_LINE = 46.0
"""Symbols that four bars of a hand's width still hold readably (measured on our pages)."""


def line_starts(bars: Sequence[Bar], bars_per_line: int = 4) -> tuple[int, ...]:
    """Give the indices of the bars that begin a line, the first bar's included.

    Raises
    ------
    ValueError
        If `bars_per_line` is below one.
    """
    if bars_per_line < 1:
        raise ValueError(f"a line needs at least one bar, not {bars_per_line}")
    starts: list[int] = []
    for stretch in _sections(bars):
        starts.extend(_lines_of(bars, stretch, bars_per_line))
    return tuple(starts)


def _sections(bars: Sequence[Bar]) -> list[range]:
    """Cut the bars where a section begins, the pick-up before it included."""
    cuts = [0]
    for index, bar in enumerate(bars):
        if bar.section and index:
            start = index - 1 if bars[index - 1].pickup else index
            if start > cuts[-1]:
                cuts.append(start)
    ends = [*cuts[1:], len(bars)]
    return [range(start, end) for start, end in zip(cuts, ends, strict=True)]


def _lines_of(bars: Sequence[Bar], stretch: range, bars_per_line: int) -> list[int]:
    full = [index for index in stretch if not bars[index].pickup]
    starts = [stretch.start]
    for place in range(bars_per_line, len(full), bars_per_line):
        lonely = len(full) - place == 1 and bars_per_line > 1
        if not lonely:
            starts.append(_with_pickup(bars, full[place]))
    ends = [*starts[1:], stretch.stop]
    lines: list[int] = []
    for start, end in zip(starts, ends, strict=True):
        lines.append(start)
        if sum(_weight(bar) for bar in bars[start:end]) > FULL_LINE * bars_per_line / 4:
            middle = start + (end - start + 1) // 2
            if end - start > 2:
                lines.append(_with_pickup(bars, middle))
    return lines


def _with_pickup(bars: Sequence[Bar], index: int) -> int:
    return index - 1 if bars[index - 1].pickup else index


def _weight(bar: Bar) -> float:
    """Estimate a bar's need for room, in symbols."""
    symbols = sum(1 + 0.5 * len(note.graces) for note in bar.notes)
    syllables = sum(max((len(s) for s in note.lyrics), default=0) for note in bar.notes)
    changes = sum(len(str(event.symbol)) for event in bar.chords)
    return max(symbols, syllables / 2.5, changes / 2.5)
