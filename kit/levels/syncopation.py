"""How syncopated is a melody?

A note is syncopated when a stronger place than its own goes by before the next note: the
place is felt, and nothing is struck there. How much is the difference of the weights.

Conventions
-----------
* Weights are 0 for the bar line and one less for each finer layer of the meter: in 4/4 the
  half bar is -1, the other quarters -2, eighths -3, sixteenths -4.
* Each note is compared with the strongest place between its start and the next note's
  start; the sum over a stretch is its syncopation.

Source: Longuet-Higgins & Lee, "The Rhythmic Interpretation of Monophonic Music", *Music
Perception* 1 (1984), 424-441; checked on its published examples in
tests/reference/test_syncopation_worked.py. A place as strong as the note's own, which the
measure counts with strength 0, is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.levels.metric import strength
from kit.levels.rewrite import bar_starts, sounds_of
from kit.tune.model import Meter, Tune

__all__ = ["Syncopation", "syncopations", "weight"]


@dataclass(frozen=True, slots=True)
class Syncopation:
    """A syncopated note: its place among the sounds, and how strong it is (1 or more)."""

    place: int
    bar: int
    strength: int


def weight(place: Fraction, meter: Meter) -> int:
    """Give the weight of a place in the bar: 0 at the bar line, else below.

    A place inside a triplet weighs less than any binary place of its beat.
    """
    if place.denominator % 3 == 0:
        return -strength(meter.pulse / 2, meter) - 1
    return -strength(place, meter)


def syncopations(tune: Tune) -> tuple[Syncopation, ...]:
    """Find the syncopated notes of the written bars.

    Silence before the first note and after the last is not counted.
    """
    starts = bar_starts(tune)
    sounds = sounds_of(tune)
    found: list[Syncopation] = []
    for place, sound in enumerate(sounds[:-1]):
        until = sounds[place + 1].start
        own, bar = _weight_at(tune, starts, sound.start)
        strongest = _strongest_between(tune, starts, sound.start, until, bar)
        if strongest is not None and strongest > own:
            found.append(Syncopation(place, bar, strongest - own))
    return tuple(found)


def _weight_at(tune: Tune, starts: Sequence[Fraction], moment: Fraction) -> tuple[int, int]:
    index = max(0, _bar_at(starts, moment))
    bar = tune.bars[index]
    lead = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    return weight(moment - starts[index] + lead, bar.meter), index


def _bar_at(starts: Sequence[Fraction], moment: Fraction) -> int:
    low, high = 0, len(starts) - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if starts[middle] <= moment else (low, middle)
    return low


def _strongest_between(
    tune: Tune, starts: Sequence[Fraction], start: Fraction, end: Fraction, bar: int
) -> int | None:
    """Find the strongest weight strictly between two moments, None if there is none."""
    strongest: int | None = None
    index = bar
    while index < len(tune.bars) and starts[index] < end:
        meter = tune.bars[index].meter
        step = meter.pulse / (3 if meter.is_compound else 2)
        moment = starts[index] + ((max(start - starts[index], Fraction(0))) // step) * step
        while moment < min(end, starts[index + 1]):
            if moment > start:
                here, _ = _weight_at(tune, starts, moment)
                strongest = here if strongest is None else max(strongest, here)
            moment += step
        index += 1
    return strongest
