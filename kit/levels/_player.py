"""What must be known of an instrument to say how hard a line is on it?

`kit.instruments.table.Instrument` has all of it; any record with these members will do,
so that this room does not depend on the one downstream.

Conventions: pitches are written pitches; the interval goes from concert up to written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

from kit.levels.rewrite import sounds_of
from kit.tune.model import Tune, transposed
from kit.tune.pitch import Interval, Key, Pitch

__all__ = ["YARDSTICK", "Crossing", "Player", "Reach", "plain_fifths", "written_sheet"]

YARDSTICK = "intermediate"
"""Whose comfortable range and breath all levels are measured by, so that they compare."""


class Reach(Protocol):
    """A range of written pitches, both ends included."""

    @property
    def low(self) -> Pitch:
        """The lowest."""

    @property
    def high(self) -> Pitch:
        """The highest."""


class Crossing(Protocol):
    """A place where the register changes awkwardly."""

    def crossed_by(self, first: Pitch, second: Pitch) -> bool:
        """Whether two pitches in a row cross it."""


class Player(Protocol):
    """An instrument, as far as a line's difficulty is concerned."""

    @property
    def name(self) -> str:
        """What it is called in a sentence."""

    @property
    def written_above_concert(self) -> Interval:
        """From the sounding up to the written pitch."""

    @property
    def range_written(self) -> Reach:
        """All it has."""

    @property
    def breaks(self) -> Sequence[Crossing]:
        """Its awkward crossings."""

    def comfortable_range(self, level: str) -> Reach:
        """Give what lies well at a level."""

    def breath_length_s(self, level: str) -> float | None:
        """Give the seconds that one breath carries, None if it takes none."""


def written_sheet(sheet: Tune, player: Player) -> Tune:
    """Write a concert sheet as a player reads it, in the octave that lies best.

    The octave is the one with the fewest notes outside the instrument's range, then outside
    its comfortable range, then the usual one; the key takes its plain enharmonic name.
    `kit.instruments.transposition.write_part` does the same with more care, and says why.
    """
    plain = transposed(sheet, player.written_above_concert)
    full, comfortable = player.range_written, player.comfortable_range(YARDSTICK)
    heights = [sound.pitch.midi for sound in sounds_of(plain)]

    def burden(octaves: int) -> tuple[int, int, int]:
        moved = [height + 12 * octaves for height in heights]
        return _outside(moved, full), _outside(moved, comfortable), abs(octaves)

    best = min(range(-2, 3), key=burden)
    moved = transposed(plain, Interval(7 * best, 12 * best)) if best else plain
    bars = tuple(
        replace(bar, key=Key(plain_fifths(bar.key.fifths), bar.key.mode))
        for bar in moved.bars
    )
    return replace(moved, bars=bars)


def _outside(heights: Sequence[int], reach: Reach) -> int:
    return sum(not reach.low.midi <= height <= reach.high.midi for height in heights)


def plain_fifths(fifths: int) -> int:
    """Give the enharmonic signature that is read: seven signs at most."""
    return fifths if abs(fifths) <= 7 else fifths - 12 * (1 if fifths > 0 else -1)
