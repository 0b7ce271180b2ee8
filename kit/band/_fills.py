"""Which fill does the drummer play, so that no two in a row are the same?

A fill takes the last two beats of a bar, or the last group of an uneven one. Where a feel
has only one of a size, it goes round the kit the second time, or comes in a stroke later. A
drum solo (traded fours) is a row of fills; a feel without drums has none, and its bars are
left to the soloist.

Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from kit.band.chart import ChartBar
from kit.band.feel import Hit

__all__ = ["Fills"]

Fill = tuple[Hit, ...]
Placed = list[tuple[Fraction, Hit]]
"""(Position, hit) pairs."""

_BEATS = 2
_ROUND_THE_KIT = {
    "snare": "mid_tom",
    "mid_tom": "high_tom",
    "high_tom": "snare",
    "low_tom": "mid_tom",
}
_DRUMS = ("snare", "mid_tom", "high_tom", "low_tom")
_FEET = ("kick", "hihat_foot")
_BIG_CHANCE = 0.5


class Fills:
    """Chooses fills, each another than the one before.

    Parameters
    ----------
    rng : random.Random
        Chooses among those that are left.
    """

    def __init__(self, rng: random.Random) -> None:
        self._rng = rng
        self._last: frozenset[tuple[str, Fraction]] = frozenset()
        self._before_last: frozenset[tuple[str, Fraction]] = frozenset()

    def ending(self, bar: ChartBar) -> Placed:
        """Give the fill at the end of a bar, empty where there is none."""
        offered = bar.feel.fills.get(bar.fill, ())
        if not offered or bar.beats < _BEATS:
            return []
        if bar.is_uneven:
            return self._roll(bar, len(bar.groups) - 1)
        # In a bar of two that holds a whole figure, two beats of the fill are one.
        scale = Fraction(1, 2) if bar.is_closer else Fraction(1)
        return self._placed(bar, offered, bar.beats - _BEATS * scale, scale)

    def alone(self, bar: ChartBar) -> Placed:
        """Give one bar of the drummer alone."""
        fills = bar.feel.fills
        if not all(fills.get(size) for size in ("small", "big")):
            return []
        if bar.is_uneven:
            return [
                hit for index in range(len(bar.groups)) for hit in self._roll(bar, index)
            ]
        scale = Fraction(1, 2) if bar.is_closer else Fraction(1)
        step = _BEATS * scale
        placed: Placed = []
        first = Fraction(0)
        while first < bar.beats:
            is_last = first + step >= bar.beats
            big = is_last or self._rng.random() < _BIG_CHANCE
            offered = fills["big" if big else "small"]
            # Neither of the last two, or each bar of a row would be like the one before.
            pool = [*offered, *map(_varied, offered)]
            fresh = [fill for fill in pool if _strokes(fill) != self._before_last]
            placed += self._placed(bar, fresh or pool, first, scale)
            first += step
        return placed

    def _placed(
        self, bar: ChartBar, offered: Sequence[Fill], first: Fraction, scale: Fraction
    ) -> Placed:
        hits = [(bar.moment(first + hit.at * scale), hit) for hit in self._another(offered)]
        return [(at, hit) for at, hit in hits if at < bar.end]

    def _another(self, offered: Sequence[Fill]) -> Fill:
        """Give a fill of two beats that is not the one given last."""
        fresh = [fill for fill in offered if _strokes(fill) != self._last]
        if not fresh:
            fresh = [fill for fill in map(_varied, offered) if _strokes(fill) != self._last]
        # A fill of one stroke cannot be varied.
        chosen = self._rng.choice(fresh or list(offered))
        self._before_last, self._last = self._last, _strokes(chosen)
        return chosen

    def _roll(self, bar: ChartBar, index: int) -> Placed:
        """Give a stroke on each eighth of a group, rising, on another drum than before."""
        last = next((voice for voice, _ in self._last), "")
        voice = self._rng.choice([drum for drum in _DRUMS if drum != last])
        self._last = frozenset([(voice, Fraction(0))])
        first, size = sum(bar.uneven[:index]), bar.uneven[index]
        return [
            (bar.moment(Fraction(place)), Hit(voice, Fraction(place), 58 + 6 * step))
            for step, place in enumerate(range(first, first + size))
            if bar.moment(Fraction(place)) < bar.end
        ]


def _strokes(fill: Fill) -> frozenset[tuple[str, Fraction]]:
    return frozenset([(hit.voice, hit.at) for hit in fill])


def _varied(fill: Fill) -> Fill:
    """Move the hands round the kit; who has only one drum comes in a stroke later."""
    moved = tuple(
        replace(hit, voice=_ROUND_THE_KIT.get(hit.voice, hit.voice)) for hit in fill
    )
    if _strokes(moved) != _strokes(fill) and any(hit.voice == "snare" for hit in fill):
        return moved
    hands = sorted({hit.at for hit in fill if hit.voice not in _FEET})
    if len(hands) < 2:
        return fill
    return tuple(hit for hit in fill if hit.voice in _FEET or hit.at != hands[0])
