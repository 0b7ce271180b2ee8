"""Which interval is meant by so many semitones?

A transposition that is only given in semitones is spelled as transposing instruments
spell theirs (9 semitones are a major sixth). Source: common practice.
"""

from __future__ import annotations

from kit.tune.pitch import Interval

__all__ = ["semitones_to_interval"]

_STEPS = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)


def semitones_to_interval(semitones: int) -> Interval:
    """Spell a transposition of so many semitones.

    Examples
    --------
    >>> semitones_to_interval(-2)
    Interval(steps=-1, semitones=-2)
    """
    octaves, rest = divmod(abs(semitones), 12)
    interval = Interval(7 * octaves + _STEPS[rest], abs(semitones))
    return -interval if semitones < 0 else interval
