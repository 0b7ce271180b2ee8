"""How is a length written at its place in the bar, so that the beats stay visible?

Conventions
-----------
* Places and lengths are exact fractions of a quarter note from the start of a full bar.
* The *strength* of a place is 0 at the bar line, 1 at the middle (or the beats, in three),
  one more for each finer layer of beats, halves and quarters of a beat.
* A note may cross places as weak as its own start, and one a layer stronger if it also ends
  on a place as strong as its start (eighth, quarter, eighth). Anything else is written as
  two symbols with a tie. In compound meters no felt beat is crossed from inside.
* A rest crosses only weaker places and has no dot in simple meters; a bar of rest is one
  symbol where there is one.

Source: common practice of jazz and classical notation, as in Gould, *Behind Bars* (2011),
"Duration" (from memory).
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache, lru_cache

from kit.tune.model import Meter
from kit.tune.notation import note_value

__all__ = ["split_at_beats", "strength"]

_FINEST = 32
"""Places per quarter note that a beat can be divided into; finer ones are refused."""


@cache
def strength(place: Fraction, meter: Meter) -> int:
    """Give the metrical layer of a place in the bar, 0 for the strongest.

    Raises
    ------
    ValueError
        If the place is on no binary division of the beat (a tuplet has its own rule).
    """
    place %= meter.bar_length
    if place == 0:
        return 0
    groups = _group_starts(meter)
    if place in groups:
        return 1
    layer = 2 if groups else 1
    unit = meter.pulse
    if place % unit == 0:
        return layer
    if meter.is_compound:
        unit, layer = unit / 3, layer + 1
        if place % unit == 0:
            return layer
    while unit >= Fraction(1, _FINEST):
        unit, layer = unit / 2, layer + 1
        if place % unit == 0:
            return layer
    raise ValueError(f"{place} is on no binary division of the beat")


def _group_starts(meter: Meter) -> frozenset[Fraction]:
    """Where the bar falls into two groups of beats, if it has more than three."""
    beats = meter.pulses
    if beats < 4:
        return frozenset()
    # Five is three and two, seven four and three (common practice).
    first = beats // 2 if beats % 2 == 0 else beats // 2 + 1
    return frozenset({first * meter.pulse})


@lru_cache(maxsize=10_000)
def split_at_beats(
    start: Fraction, end: Fraction, meter: Meter, *, rest: bool = False
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Cut a stretch of a bar into lengths that each have one readable symbol.

    Parameters
    ----------
    start, end : Fraction
        From the start of a full bar, `start` before `end`.
    meter : Meter
        Of the bar.
    rest : bool
        Whether it is silent.

    Raises
    ------
    ValueError
        If a place is too fine to be written.

    Examples
    --------
    >>> split_at_beats(Fraction(3, 2), Fraction(3), Meter())
    ((Fraction(3, 2), Fraction(2, 1)), (Fraction(2, 1), Fraction(3, 1)))
    """
    if _is_readable(start, end, meter, rest=rest):
        return ((start, end),)
    inside = _inside(start, end, meter)
    if not inside:
        raise ValueError(f"a length of {end - start} quarters at {start} cannot be written")
    strongest = min(layer for _, layer in inside)
    cuts = [place for place, layer in inside if layer == strongest]
    # From a strong place the first symbol may be long; from a weak one it ends on the beat.
    cut = cuts[-1] if strength(start, meter) <= strongest else cuts[0]
    return (
        *split_at_beats(start, cut, meter, rest=rest),
        *split_at_beats(cut, end, meter, rest=rest),
    )


def _is_readable(start: Fraction, end: Fraction, meter: Meter, *, rest: bool) -> bool:
    try:
        dots = note_value(end - start).dots
    except ValueError:
        # No symbol is as long: it must be cut.
        return False
    if rest and end - start == meter.bar_length:
        return True
    crossed = [layer for _, layer in _inside(start, end, meter)]
    own = strength(start, meter)
    if rest:
        plain = not dots or (meter.is_compound and dots == 1)
        return plain and all(layer > own for layer in crossed)
    stronger = [layer for layer in crossed if layer < own]
    syncopated = (
        stronger == [own - 1] and not meter.is_compound and strength(end, meter) <= own
    )
    return dots <= 1 and (not stronger or syncopated)


@cache
def _inside(
    start: Fraction, end: Fraction, meter: Meter
) -> tuple[tuple[Fraction, int], ...]:
    """List the places strictly inside a stretch with their strengths."""
    step = Fraction(1, max(start.denominator, end.denominator, 2))
    unit = Fraction(4, meter.beat_type)
    step = min(step, unit / 2)
    found = []
    place = start + step
    while place < end:
        found.append((place, strength(place, meter)))
        place += step
    return tuple(found)
