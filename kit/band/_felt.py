"""What do the notes say about how a tune is felt: its uneven groups, its side of the clave?

*Uneven groups.* A bar of five, seven or more eighths is felt in groups of two and three. Of
all ways to group it the one is taken on whose group starts most notes and chords begin,
and long notes most of all; where the notes do not tell, the long group is last in 7/8
and first in 5/8.

*Clave.* A two-bar figure has a side of three strokes, which is syncopated, and one of two,
which is not. A tune whose first bars of each pair hold more notes across the beat goes
with 3-2, one whose second bars do with 2-3. Once it goes on, the figure never turns round,
whatever the lengths of phrases are.

Source: common practice of both; that a clave does not turn is said in every handbook of
Cuban music (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache

from kit.band.feel import Feel
from kit.route.plan import PerformedBar
from kit.tune.model import Bar, Meter, Tune

__all__ = ["clave_shift", "is_uneven", "uneven_groups"]

_EIGHTH = Fraction(1, 2)


def is_uneven(meter: Meter) -> bool:
    """Say whether a meter is felt in groups of two and three eighths.

    Examples
    --------
    >>> [is_uneven(Meter.parse(m)) for m in ("7/8", "5/8", "6/8", "3/8", "7/4")]
    [True, True, False, False, False]
    """
    return meter.beat_type == 8 and meter.beats >= 5 and not meter.is_compound


def uneven_groups(sheet: Tune, meter: Meter) -> tuple[int, ...]:
    """Group the eighths of a meter as the sheet's bars of that meter want it.

    Parameters
    ----------
    sheet : Tune
        Whose notes and chords are asked.
    meter : Meter
        An uneven one.

    Returns
    -------
    tuple of int
        Twos and threes that add up to the bar.
    """
    return _grouped(sheet.bars, meter)


@lru_cache(maxsize=64)
def _grouped(bars: tuple[Bar, ...], meter: Meter) -> tuple[int, ...]:
    weights = [Fraction(0)] * (meter.beats + 1)
    for bar in bars:
        if bar.meter != meter or bar.is_short:
            continue
        for note in bar.notes:
            place = note.onset / _EIGHTH
            if place.denominator == 1 and not note.is_rest:
                weights[int(place)] += note.duration
        for chord in bar.chords:
            place = chord.onset / _EIGHTH
            if place.denominator == 1:
                # A change of chord marks a beat more surely than a note does.
                weights[int(place)] += 2
    ways = sorted(_ways(meter.beats), key=lambda way: (len(way), _usual(way)))
    return max(ways, key=lambda way: _weight(way, weights))


def _ways(eighths: int) -> Iterator[tuple[int, ...]]:
    for first in (2, 3):
        if eighths == first:
            yield (first,)
        elif eighths - first >= 2:
            yield from ((first, *rest) for rest in _ways(eighths - first))


def _usual(way: Sequence[int]) -> tuple[int, ...]:
    # 3+2 before 2+3, and 2+2+3 before the others.
    return tuple(-size for size in way) if len(way) == 2 else tuple(way)


def _weight(way: Sequence[int], weights: Sequence[Fraction]) -> Fraction:
    starts = [sum(way[:index]) for index in range(len(way))]
    # The mean, or the way with the most groups would always win.
    return sum((weights[start] for start in starts), Fraction(0)) / len(way)


def clave_shift(sheet: Tune, played: Sequence[PerformedBar], feel: Feel) -> int:
    """Say by how many bars the feel's figure is moved so that it fits the notes.

    Parameters
    ----------
    sheet : Tune
        The melody.
    played : sequence of PerformedBar
        The performed bars, pick-ups left out.
    feel : Feel
        Of the whole performance.

    Returns
    -------
    int
        0 where the figure's first bar falls on the form's first bar, else 1.
    """
    if not feel.clave:
        return 0
    head = [bar for bar in played if bar.kind == "head" and bar.time_through == 1]
    across = [0, 0]
    for place, bar in enumerate(head):
        across[place % 2] += _across_the_beat(sheet.bars[bar.sheet_index])
    if across[0] == across[1]:
        return int(feel.clave == "2-3")
    return int(across[1] > across[0])


def _across_the_beat(bar: Bar) -> int:
    """Count the notes that begin between two beats and sound past the next one."""
    beat = bar.meter.pulse
    return sum(
        1
        for note in bar.notes
        if not note.is_rest
        and note.onset % beat
        and note.end > -(-note.onset // beat) * beat
    )
