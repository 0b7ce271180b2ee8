"""Where a new line of music begins.

Conventions
-----------
* A section begins a line, its pick-up with it; so does a passage behind a repeat or a
  double bar, if the lines before and behind it stay full enough. Within a passage lines
  have the asked number of bars; a single bar is never left over, it joins the line before.
* Endings stay together: a second ending of one bar stands on the line of the first.
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
    for stretch in _passages(bars, bars_per_line):
        starts.extend(_lines_of(bars, stretch, bars_per_line))
    return tuple(starts)


def _passages(bars: Sequence[Bar], bars_per_line: int) -> list[range]:
    """Cut the bars where a section or passage begins, the pick-up before it included."""
    must = {0, *(_with_pickup(bars, i) for i, bar in enumerate(bars) if i and bar.section)}
    cuts = [0]
    for index in range(1, len(bars)):
        if index in must:
            cuts.append(index)
        elif index - 1 > cuts[-1] and _begins_anew(bars, index):
            index = _with_pickup(bars, index)  # noqa: PLW2901 - it leads into the passage
            end = min((cut for cut in must if cut > index), default=len(bars))
            before = _count(bars, cuts[-1], index)
            if before >= bars_per_line and _count(bars, index, end) > 1:
                cuts.append(index)
    ends = [*cuts[1:], len(bars)]
    return [range(start, end) for start, end in zip(cuts, ends, strict=True)]


def _begins_anew(bars: Sequence[Bar], index: int) -> bool:
    """Say whether a repeat or double bar parts two bars, endings of one passage aside."""
    last, bar = bars[index - 1], bars[index]
    if bar.endings:
        return False
    parted = bar.repeat_start or last.repeat_times > 0 or last.barline != "single"
    return parted or bool(last.endings)


def _count(bars: Sequence[Bar], start: int, end: int) -> int:
    return sum(not bar.pickup for bar in bars[start:end])


def _lines_of(bars: Sequence[Bar], stretch: range, bars_per_line: int) -> list[int]:
    full = [index for index in stretch if not bars[index].pickup]
    starts = [stretch.start]
    for place in range(bars_per_line, len(full), bars_per_line):
        # A bar alone on a line looks like a misprint, and costs the page a whole system.
        lonely = len(full) - place == 1 and bars_per_line > 1
        if not lonely:
            starts.append(_with_pickup(bars, full[place]))
    ends = [*starts[1:], stretch.stop]
    lines: list[int] = []
    for start, end in zip(starts, ends, strict=True):
        lines.append(start)
        if sum(_weight(bar) for bar in bars[start:end]) > FULL_LINE * bars_per_line / 4:
            # Of an odd number the longer half goes first, as readers expect of lines.
            middle = start + (end - start + 1) // 2
            if end - start > 2:
                lines.append(_with_pickup(bars, middle))
    return lines


def _with_pickup(bars: Sequence[Bar], index: int) -> int:
    return index - 1 if bars[index - 1].pickup else index


def _weight(bar: Bar) -> float:
    """Estimate a bar's need for room, in symbols."""
    # Whatever is widest sets the width: notes, syllables below or chord names above.
    symbols = sum(1 + 0.5 * len(note.graces) for note in bar.notes)
    syllables = sum(max((len(s) for s in note.lyrics), default=0) for note in bar.notes)
    changes = sum(len(str(event.symbol)) for event in bar.chords)
    return max(symbols, syllables / 2.5, changes / 2.5)
