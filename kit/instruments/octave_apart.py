"""How many octaves lie between two parts of one instrument, and what is said of it?

The levels of a lesson share an octave where that serves them all; where they do not, a
comparison has to look through that, or every note would be another one.
"""

from __future__ import annotations

from kit.instruments._reasons import octave_reasons
from kit.instruments.part import Part
from kit.tune.model import Tune, transposed
from kit.tune.pitch import Interval

__all__ = ["by_octaves", "octave_sentence", "octaves_apart", "why_this_octave"]


def octaves_apart(lower: Part, upper: Part) -> int:
    """Give how many octaves higher the upper level's part is written, negative if lower.

    Parameters
    ----------
    lower, upper : Part
        Two levels of a tune for one instrument, in the same key.
    """
    return round((upper.interval.semitones - lower.interval.semitones) / 12)


def by_octaves(tune: Tune, octaves: int) -> Tune:
    """Move a whole tune by octaves.

    Parameters
    ----------
    tune : Tune
        At any pitch.
    octaves : int
        Up, or down if negative; with 0 the very same tune comes back.
    """
    return transposed(tune, Interval(7 * octaves, 12 * octaves)) if octaves else tune


def octave_sentence(octaves: int) -> str:
    """Say that the upper part lies in another octave; nothing where it does not."""
    if not octaves:
        return ""
    where = "higher" if octaves > 0 else "lower"
    size = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
    return f"The whole part is written {size} {where}, where it lies better."


def why_this_octave(part: Part) -> tuple[str, ...]:
    """Say why a part, or some notes of it, lies in another octave than usual.

    Parameters
    ----------
    part : Part
        At written pitch.

    Returns
    -------
    tuple of str
        Sentences; none where everything is as usual.
    """
    return octave_reasons(part)
