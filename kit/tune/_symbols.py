"""Into which written notes does a length fall that no single symbol has?

Five eighths are a half note tied to an eighth, or an eighth tied to a half: which, depends
on where they stand. A length is parted at the strongest beat inside it that leaves two
plain symbols; where there is none, the largest symbol comes first.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from kit.tune.model import Meter
from kit.tune.notation import note_value

__all__ = ["has_symbol", "split_into_symbols", "tuplet_of"]

_TIMES = {3: 2, 5: 4, 7: 4, 9: 8, 15: 8}
_PARTS_AT_MOST = 64


def has_symbol(length: Fraction, tuplet: tuple[int, int] | None = None) -> bool:
    """Say whether a single note symbol has this length in quarter notes."""
    try:
        note_value(length, tuplet)
    except ValueError:
        return False
    return True


def tuplet_of(length: Fraction) -> tuple[int, int] | None:
    """Guess the tuplet of a length that the source does not call one (1/3: a triplet)."""
    odd = length.denominator
    # Halving is what plain values do; what is left over counts the tuplet.
    while odd % 2 == 0:
        odd //= 2
    return (odd, _TIMES[odd]) if odd in _TIMES else None


def split_into_symbols(
    length: Fraction,
    *,
    onset: Fraction,
    meter: Meter,
    tuplet: tuple[int, int] | None = None,
) -> tuple[Fraction, ...]:
    """Part a length into lengths that single symbols have.

    Parameters
    ----------
    length, onset : Fraction
        Quarter notes; the onset from the start of the bar.
    meter : Meter
    tuplet : (int, int), optional
        Notes played, in the time of.

    Raises
    ------
    ValueError
        If no row of a few symbols has the length.

    Examples
    --------
    >>> split_into_symbols(Fraction(5, 2), onset=Fraction(3, 2), meter=Meter(4, 4))
    (Fraction(1, 2), Fraction(2, 1))
    """
    if has_symbol(length, tuplet):
        return (length,)
    for cut in _cuts(onset, onset + length, meter):
        first, second = cut - onset, onset + length - cut
        if has_symbol(first, tuplet) and has_symbol(second, tuplet):
            return first, second
    return _largest_first(length, tuplet)


def _cuts(start: Fraction, end: Fraction, meter: Meter) -> Iterator[Fraction]:
    """Yield the beats inside a stretch, strong ones first."""
    grid = meter.bar_length
    # The middle of the bar is the strongest place inside it.
    if meter.beats in (2, 4):
        grid /= 2
    for step in (
        grid,
        meter.pulse,
        Fraction(4, meter.beat_type),
        Fraction(1, 2),
        Fraction(1, 4),
    ):
        beat = (start // step + 1) * step
        count = 0
        while beat < end and count < 64:
            yield beat
            beat += step
            count += 1


def _largest_first(
    length: Fraction, tuplet: tuple[int, int] | None
) -> tuple[Fraction, ...]:
    scale = Fraction(tuplet[1], tuplet[0]) if tuplet else Fraction(1)
    parts: list[Fraction] = []
    rest = length
    size = 8 * scale
    while rest > 0 and len(parts) < _PARTS_AT_MOST and size >= scale / 32:
        if size <= rest:
            parts.append(size)
            rest -= size
        else:
            size /= 2
    if rest:
        raise ValueError(f"no written notes add up to {length} quarter notes")
    return tuple(parts)
