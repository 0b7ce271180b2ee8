"""What does it cost to say a stretch of music as the return of an earlier one?

Conventions
-----------
* Places are counted in full bars, costs in bars. A *shift* is in semitones, how far the key
  has risen since.
* A section is known by its opening: with another one it is another section, however like
  the rest. Endings vary, so the last quarter counts half (common practice).

The weights are our own, set as `kit.form._search` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from kit.form._borders import verses_sung
from kit.form._likeness import Likenesses, bar_contents
from kit.tune.model import Tune

__all__ = ["Known", "Returns"]

_DIFFERENCE, _MOST_DIFFERENT = 2.2, 1.3
"""A bar that comes back costs its difference so many times, up to so much."""
_ENDING_WEIGHT = 0.5
_HEAD = 0.5
"""How much more the first quarter of a section counts than its middle."""
_OPENING, _MIDDLE = 0.88, 0.8
"""The most that bars of the first half, and of the third quarter, may cost on average."""
_OTHER_WORDS = 2.0
"""How many times a difference counts between a stretch of several verses and one of one."""
_LONGER = 1.0
_LIFTS = (1, 2, 3, -1)
_LIFTED_BARS = 4
_SHARED = 0.3
"""The most that each bar of a shared ending may cost."""


class Known(NamedTuple):
    """A label's first section, and the key it was in, in semitones above the home key."""

    start: int
    length: int
    shift: int


class Returns:
    """What the stretches of one tune cost as returns of one another; each asked once."""

    def __init__(self, played: Tune, full: Sequence[int], lengths: Sequence[int]) -> None:
        every = bar_contents(played)
        self.contents = [every[index] for index in full]
        self.likenesses = Likenesses(self.contents)
        self.sung = verses_sung([played.bars[index] for index in full])
        self.count = len(full)
        self.lengths = lengths
        self._sums: dict[tuple[int, int, int], list[float]] = {}
        self._found: dict[tuple[int, int, int, int], dict[int, float]] = {}

    def difference(self, one: int, other: int, shift: int = 0) -> float:
        """Give what a bar costs that is another one with differences, in bars."""
        unlike = 1.0 - self.likenesses.bars(one, other, shift=shift)
        return min(_MOST_DIFFERENT, _DIFFERENCE * unlike)

    def by_length(self, known: Known, place: int, shift: int) -> dict[int, float]:
        """Weigh a known section's return at a place, by its length; {} if it is none."""
        key = (known.start, known.length, place, shift - known.shift)
        found = self._found.get(key)
        if found is None:
            sums = self._summed(known.start, place, shift - known.shift)
            apart = max(2, known.length // 2)
            found = self._found[key] = {}
            for length in range(max(2, known.length - apart), known.length + apart + 1):
                if length in self.lengths and place + length <= self.count:
                    cost = self._return_cost(known, place, length, sums)
                    if cost is not None:
                        found[length] = cost
        return found

    def _return_cost(
        self, known: Known, place: int, length: int, sums: list[float]
    ) -> float | None:
        shared = min(length, known.length)
        if len(sums) <= shared:
            return None
        half, tail = shared // 2, max(1, shared // 4) if shared > 1 else 0
        if half and sums[half] > _OPENING * half:
            return None
        third = shared - tail - half
        if shared >= 8 and sums[shared - tail] - sums[half] > _MIDDLE * third:
            return None
        cost = sums[shared] - (1 - _ENDING_WEIGHT) * (sums[shared] - sums[shared - tail])
        cost += _HEAD * sums[tail]
        if self.sung[known.start] != self.sung[place]:
            cost *= _OTHER_WORDS
        cost += _LONGER * abs(length - known.length)
        return cost if cost < length else None

    def shares_its_ending(self, known: Known, place: int, shift: int) -> bool:
        """Whether the second halves are alike: strains often share their endings."""
        half = known.length // 2
        sums = self._summed(known.start, place, shift - known.shift)
        return sums[known.length] - sums[half] <= _SHARED * (known.length - half)

    def _summed(self, start: int, place: int, shift: int) -> list[float]:
        """Give the differences of two stretches, summed up bar by bar from their starts."""
        key = (start, place, shift)
        sums = self._sums.get(key)
        if sums is None:
            sums = [0.0]
            most = min(max(self.lengths), self.count - place)
            for k in range(most):
                sums.append(sums[-1] + self.difference(start + k, place + k, shift))
                # Two bars with nothing in common open no section that is known.
                if k == 1 and sums[-1] > 0.95 * 2 * _MOST_DIFFERENT:
                    break
            self._sums[key] = sums
        return sums

    def lift(self, known: Known, place: int, shift: int) -> int:
        """Say how much the key has risen if a known section comes here, 0 if it has not.

        A key that has been left does not come back: in the middle of a tune what is moved
        is a bridge.
        """
        if known.length < _LIFTED_BARS or place + known.length > self.count:
            return 0
        for k in range(known.length):
            one, other = self.contents[known.start + k], self.contents[place + k]
            if one.melody and other.melody:
                step = other.melody[0][1] - one.melody[0][1] - (shift - known.shift)
                same_way = shift == 0 or (step > 0) == (shift > 0)
                return step if step in _LIFTS and same_way else 0
        return 0
