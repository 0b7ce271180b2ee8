"""In which key is a row of notes most likely?

The share of each of the twelve pitch classes, weighted by duration, is compared with the
profile of every major and minor key; the key of the best correlation wins.

Sources: the probe-tone profiles of Krumhansl and Kessler (1982), as printed in Krumhansl,
*Cognitive Foundations of Musical Pitch* (1990), p. 30 (values from memory), and the
key-finding method of Krumhansl and Schmuckler in the same book, ch. 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from kit.tune.pitch import Key

__all__ = ["KeyGuess", "find_key", "spelled_in_key"]

MAJOR_PROFILE = (6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88)
MINOR_PROFILE = (6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17)
_MINOR_SHIFT = 3


@dataclass(frozen=True, slots=True)
class KeyGuess:
    """A key with its correlation, -1 to 1, and how far it leads the next best."""

    key: Key
    correlation: float
    lead: float


def find_key(weights: Sequence[float]) -> KeyGuess:
    """Find the likeliest key of twelve pitch-class weights, C first.

    Parameters
    ----------
    weights : sequence of 12 float >= 0
        Sounding time of each pitch class, in any unit.

    Raises
    ------
    ValueError
        If there are not twelve weights, or all are zero or equal.

    Examples
    --------
    >>> str(find_key([4, 0, 2, 0, 2, 2, 0, 3, 0, 2, 0, 1]).key)
    'C major'
    """
    if len(weights) != 12:
        raise ValueError(f"twelve pitch classes are needed, not {len(weights)}")
    if max(weights) <= min(weights):
        raise ValueError("the notes do not favour any pitch")
    ranked = sorted(
        (
            (_correlation(_turned(weights, tonic), profile), -abs(key.fifths), tonic, key)
            for tonic in range(12)
            for profile, key in (
                (MAJOR_PROFILE, _signature(tonic, "major")),
                (MINOR_PROFILE, _signature(tonic, "minor")),
            )
        ),
        key=lambda row: row[:3],
        reverse=True,
    )
    best, second = ranked[0], ranked[1]
    return KeyGuess(best[3], best[0], best[0] - second[0])


def spelled_in_key(pitch_class: int, key: Key) -> int:
    """Give the place on the line of fifths at which a pitch class is spelled in a key.

    The twelve names around the tonic reach from the flat second to the raised fourth in
    both modes (common practice: the chromatic scale in harmonic spelling).
    """
    tonic = key.tonic.fifths
    # From the tonic, five steps down the line (flat second) to six up (raised fourth).
    for fifths in range(tonic - 5, tonic + 7):
        if (7 * fifths - pitch_class) % 12 == 0:
            return fifths
    raise AssertionError("twelve neighbouring fifths hold every pitch class")


def _turned(weights: Sequence[float], tonic: int) -> tuple[float, ...]:
    return tuple(weights[(tonic + step) % 12] for step in range(12))


def _signature(tonic: int, mode: str) -> Key:
    """Give the key on a pitch class with the fewest accidentals; of six, flats."""
    fifths = (7 * tonic - (_MINOR_SHIFT if mode == "minor" else 0)) % 12
    return Key(fifths if fifths <= 5 else fifths - 12, mode)


def _correlation(first: Sequence[float], second: Sequence[float]) -> float:
    """Give Pearson's correlation of two rows of twelve numbers."""
    mean_1, mean_2 = sum(first) / 12, sum(second) / 12
    over = sum((a - mean_1) * (b - mean_2) for a, b in zip(first, second, strict=True))
    spread_1 = sum((a - mean_1) ** 2 for a in first)
    spread_2 = sum((b - mean_2) ** 2 for b in second)
    return over / sqrt(spread_1 * spread_2)
