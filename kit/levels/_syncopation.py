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

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from kit.levels._metric import strength
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.tune.model import Bar, Meter, Tune

__all__ = ["Syncopation", "syncopations", "syncopations_among", "weight"]

_NONE = Fraction(0)
_BEFORE = Fraction(-1)


@dataclass(frozen=True, slots=True)
class Syncopation:
    """A syncopated note: its place among the sounds, and how strong it is (1 or more)."""

    place: int
    bar: int
    strength: int


@lru_cache(maxsize=10_000)
def weight(place: Fraction, meter: Meter) -> int:
    """Give the weight of a place in the bar: 0 at the bar line, else below.

    A place inside a tuplet of any number weighs less than any binary place of its beat.
    """
    # Not a power of two: a triplet, quintuplet, septuplet.
    if place.denominator & (place.denominator - 1):
        return -strength(meter.pulse / 2, meter) - 1
    return -strength(place, meter)


def syncopations(tune: Tune) -> tuple[Syncopation, ...]:
    """Find the syncopated notes of the written bars.

    Silence before the first note and after the last is not counted.
    """
    return syncopations_among(tune, bar_starts(tune), sounds_of(tune))


def syncopations_among(
    tune: Tune, starts: Sequence[Fraction], sounds: Sequence[Sound]
) -> tuple[Syncopation, ...]:
    """Find the syncopated notes of some sounds in a row, all but the last of them.

    Parameters
    ----------
    tune : Tune
        The bars.
    starts : sequence of Fraction
        Where they begin.
    sounds : sequence of Sound
        Some of their sounds, in order.
    """
    found: list[Syncopation] = []
    bar = bisect_right(starts, sounds[0].start) - 1 if sounds else 0
    bar = max(0, min(bar, len(tune.bars) - 1))
    for place, (sound, following) in enumerate(pairwise(sounds)):
        while bar < len(tune.bars) - 1 and starts[bar + 1] <= sound.start:
            bar += 1
        here = tune.bars[bar]
        strongest = _strongest_between(tune, starts, sound.start, following.start, bar)
        if strongest is None:
            continue
        own = weight(sound.start - starts[bar] + _lead_in(here), here.meter)
        if strongest > own:
            found.append(Syncopation(place, bar, strongest - own))
    return tuple(found)


def _lead_in(bar: Bar) -> Fraction:
    return bar.meter.bar_length - bar.length if bar.pickup else _NONE


def _strongest_between(
    tune: Tune, starts: Sequence[Fraction], start: Fraction, end: Fraction, bar: int
) -> int | None:
    """Find the strongest weight strictly between two moments, None if there is none."""
    strongest: int | None = None
    for index in range(bar, len(tune.bars)):
        if starts[index] >= end:
            break
        here = tune.bars[index]
        inside = _strongest_inside(
            # A place at the bar's own start counts once the sound began in an earlier bar.
            start - starts[index] if index == bar else _BEFORE,
            min(end, starts[index + 1]) - starts[index],
            _lead_in(here),
            here.meter,
        )
        if inside is not None:
            strongest = inside if strongest is None else max(strongest, inside)
    return strongest


@lru_cache(maxsize=10_000)
def _strongest_inside(
    start: Fraction, end: Fraction, lead_in: Fraction, meter: Meter
) -> int | None:
    """Find the strongest weight between two moments of a bar, both left out."""
    step = meter.pulse / (3 if meter.is_compound else 2)
    places = max(start, _NONE) // step
    found: int | None = None
    moment = places * step
    while moment < end:
        if moment > start:
            here = weight(moment + lead_in, meter)
            found = here if found is None else max(found, here)
        moment += step
    return found
