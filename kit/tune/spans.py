"""Which ends of hairpins and octave signs belong together?

An edit, an excerpt or a damaged file may leave one end of a line without the other; only
whole lines are drawn and written.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from kit.tune.model import Bar, SpanEnd, SpanKind

__all__ = ["pair_spans", "with_paired_spans"]


def pair_spans(
    bars: Sequence[Bar],
) -> list[tuple[tuple[int, SpanEnd], tuple[int, SpanEnd]]]:
    """Pair the ends of the lines of a tune, each with the index of its bar.

    A line of a kind closes the last open one of that kind; an end without another, and a
    line of no length, are left out.
    """
    waiting: dict[SpanKind, tuple[int, SpanEnd]] = {}
    pairs = []
    for index, bar in enumerate(bars):
        for end in _ordered(bar.spans):
            if end.opens:
                waiting.setdefault(end.kind, (index, end))
                continue
            start = waiting.pop(end.kind, None)
            if start is not None and (start[0], start[1].onset) < (index, end.onset):
                pairs.append((start, (index, end)))
    return pairs


def with_paired_spans(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Give the bars with those ends only that belong to a whole line, in order."""
    bars = _with_openings_at_starts(bars)
    kept: dict[int, list[SpanEnd]] = {}
    for pair in pair_spans(bars):
        for index, end in pair:
            kept.setdefault(index, []).append(end)
    return tuple(
        replace(bar, spans=_ordered(kept.get(index, ()))) if bar.spans else bar
        for index, bar in enumerate(bars)
    )


def _ordered(ends: Iterable[SpanEnd]) -> tuple[SpanEnd, ...]:
    return tuple(sorted(ends, key=lambda end: (end.onset, end.opens, end.kind)))


def _with_openings_at_starts(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Let a line that opens at the end of a bar open with the next bar instead."""
    moved = list(bars)
    for index, bar in enumerate(bars[:-1]):
        late = [end for end in bar.spans if end.opens and end.onset >= bar.length]
        if late:
            stay = tuple(end for end in moved[index].spans if end not in late)
            moved[index] = replace(moved[index], spans=stay)
            following = moved[index + 1]
            opened = tuple(replace(end, onset=Fraction(0)) for end in late)
            moved[index + 1] = replace(
                following, spans=_ordered((*opened, *following.spans))
            )
    return tuple(moved)
