"""Bars with what is asked of them again and again: where they begin, and their sounds.

An edit leaves most of them as they are; what it has not touched is carried over.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

from kit.levels._window import tie_free
from kit.levels.rewrite import Sound, bar_starts, sounds_in, unchanged
from kit.tune.model import Tune

__all__ = ["Music"]


@dataclass(frozen=True, slots=True)
class Music:
    """A tune or a part of one, the moments at which its bars begin, and its sounds."""

    tune: Tune
    starts: tuple[Fraction, ...]
    sounds: tuple[Sound, ...]

    @classmethod
    def of(cls, tune: Tune) -> Music:
        """Work out the sounds of a tune."""
        starts = bar_starts(tune)
        return cls(tune, starts, sounds_in(tune.bars, starts))

    def edited(self, tune: Tune, first: int, last: int) -> Music:
        """Give the music after an edit that has changed some of the bars.

        Parameters
        ----------
        tune : Tune
            The same bars, edited.
        first, last : int
            Indices of the first and the last bar that have changed.
        """
        first, last = tie_free(tune.bars, first, last)
        starts = self.starts
        new = sounds_in(tune.bars[first : last + 1], starts[first : last + 1])
        head = bisect_left(self.sounds, starts[first], key=_start)
        tail = bisect_left(self.sounds, starts[last + 1], key=_start)
        return Music(tune, starts, (*self.sounds[:head], *new, *self.sounds[tail:]))

    def changed_from(self, before: Music) -> tuple[range, int, int]:
        """Say which bars differ, and how many sounds at either end do not."""
        bars = [
            index
            for index, (one, other) in enumerate(
                zip(before.tune.bars, self.tune.bars, strict=True)
            )
            # An edit leaves the bars that it does not touch the very same objects.
            if one is not other
        ]
        span = range(bars[0], bars[-1] + 1) if bars else range(0)
        return span, *unchanged(before.sounds, self.sounds)


def _start(sound: Sound) -> Fraction:
    return sound.start
