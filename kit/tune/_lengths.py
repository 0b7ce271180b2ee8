"""How is a length of music said in words?

Lengths are exact fractions of a quarter note. Source: common practice.
"""

from __future__ import annotations

from fractions import Fraction

from kit.tune.model import Meter

__all__ = ["length_in_words"]

_UNITS = (
    (Fraction(4), "whole note", "whole notes"),
    (Fraction(2), "half", "halves"),
    (Fraction(1), "quarter", "quarters"),
    (Fraction(1, 2), "eighth", "eighths"),
    (Fraction(1, 4), "sixteenth", "sixteenths"),
    (Fraction(1, 8), "thirty-second", "thirty-seconds"),
    (Fraction(1, 16), "sixty-fourth", "sixty-fourths"),
    (Fraction(2, 3), "triplet quarter", "triplet quarters"),
    (Fraction(1, 3), "triplet eighth", "triplet eighths"),
    (Fraction(1, 6), "triplet sixteenth", "triplet sixteenths"),
)


def length_in_words(length: Fraction, meter: Meter | None = None) -> str:
    """Say a length in the largest note value that fits it a whole number of times.

    Parameters
    ----------
    length : Fraction >= 0
        Quarter notes.
    meter : Meter, optional
        Values above its beat are then not used: 4 quarters in 4/4, not 1 whole note.

    Examples
    --------
    >>> length_in_words(Fraction(9, 2), Meter(4, 4))
    '9 eighths'
    """
    # Players count beats: "4 quarters" says where a bar of 4/4 is too long, "1 whole" not.
    largest = Fraction(4, meter.beat_type) if meter else Fraction(4)
    for unit, one, many in _UNITS:
        count = length / unit
        if unit <= largest and count.denominator == 1:
            return f"{count.numerator} {one if count == 1 else many}"
    # Nested tuplets and sums of them fit no single value.
    whole, rest = divmod(length, 1)
    return f"{whole} {rest} quarters" if whole else f"{rest} of a quarter"
