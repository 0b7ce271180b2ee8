"""Which patterns of its feel may a player choose from in a group of beats?

In a feel with a figure of several bars it is the bar of the figure whose turn it is; that
is a matter of the form, never of chance. `index` is which of `ChartBar.groups` is meant.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from kit.band.chart import ChartBar
from kit.band.feel import BassNote, CompPattern, Hit

__all__ = ["bass_patterns", "comp_patterns", "drum_patterns"]

_P = TypeVar("_P")


def bass_patterns(bar: ChartBar, index: int) -> Sequence[tuple[BassNote, ...]]:
    """Give what the bass may play in a group of the bar's beats."""
    return _fitting(bar, index, bar.feel.bass, bar.feel.uneven.bass)


def comp_patterns(bar: ChartBar, index: int) -> Sequence[CompPattern]:
    """Give when the chords may be struck in a group of the bar's beats."""
    return _fitting(bar, index, bar.feel.comp, bar.feel.uneven.comp)


def drum_patterns(bar: ChartBar, index: int) -> Sequence[tuple[Hit, ...]]:
    """Give what the drums may play in a group of the bar's beats."""
    return _fitting(bar, index, bar.feel.drums, bar.feel.uneven.drums)


def _fitting(
    bar: ChartBar,
    index: int,
    even: Mapping[int, Sequence[_P]],
    uneven: Mapping[int, Sequence[_P]],
) -> Sequence[_P]:
    size = bar.groups[index]
    if bar.is_uneven:
        rows = uneven[size]
        turn = 1 + (index - 1) % (len(rows) - 1) if index and len(rows) > 1 else 0
        return rows[turn : turn + 1]
    # What is closer in bars of two keeps its width where two beats are only a part.
    wide = bar.feel.cut and size <= 2 and len(bar.groups) > 1
    # Feels have patterns for 2, 3 and 4 beats: a single beat takes the start of a 2.
    patterns = even[4 if wide else max(2, size)]
    # In double time each group of the bar is a bar of the figure.
    fast = bar.band == "double-time"
    place = bar.place * len(bar.groups) + index if fast else bar.place
    return patterns[place % bar.feel.cycle :: bar.feel.cycle] or patterns
