"""In which key is a row of notes most likely?

The share of each of the twelve pitch classes, weighted by duration, is compared with the
profile of every major and minor key; the key of the best correlation wins. Where the last
note is known, the key whose tonic it is gets a little more, because tunes end there.

Sources: the profiles that Temperley counted in the Kostka-Payne corpus (*Music and
Probability*, 2007, ch. 6; values as music21's `TemperleyKostkaPayne` has them), and the
key-finding method of Krumhansl and Schmuckler (Krumhansl, *Cognitive Foundations of Musical
Pitch*, 1990, ch. 4). Of five published pairs of profiles these find the declared keys of a
folk corpus most often (docs/developer/notation.md); the weight of the last note is our own
choice, measured on the same corpus.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from kit.tune.pitch import Key

__all__ = ["KeyGuess", "find_key", "spelled_in_key"]

MAJOR_PROFILE = (
    0.748, 0.06, 0.488, 0.082, 0.67, 0.46, 0.096, 0.715, 0.104, 0.366, 0.057, 0.4,
)  # fmt: skip
MINOR_PROFILE = (
    0.712, 0.084, 0.474, 0.618, 0.049, 0.46, 0.105, 0.747, 0.404, 0.067, 0.133, 0.33,
)  # fmt: skip
# Enough to part a major key from its relative minor, which share all their notes.
_LAST_NOTE = 0.1
# A minor key has the signature of the major key three fifths lower.
_MINOR_SHIFT = 3


@dataclass(frozen=True, slots=True)
class KeyGuess:
    """A key with its correlation, -1 to 1, and how far it leads the next best."""

    key: Key
    correlation: float
    lead: float


def find_key(weights: Sequence[float], *, last: int | None = None) -> KeyGuess:
    """Find the likeliest key of twelve pitch-class weights, C first.

    Parameters
    ----------
    weights : sequence of 12 float >= 0
        Sounding time of each pitch class, in any unit.
    last : int, optional
        Pitch class of the last note.

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
    # Equal weights have no spread, and a correlation would divide by nothing.
    if max(weights) <= min(weights):
        raise ValueError("the notes do not favour any pitch")
    ranked = sorted(
        (
            (
                _correlation(_turned(weights, tonic), profile)
                + (_LAST_NOTE if tonic == last else 0.0),
                # Of equals the key with fewer accidentals.
                -abs(key.fifths),
                tonic,
                key,
            )
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
    profile = MINOR_PROFILE if best[3].is_minor else MAJOR_PROFILE
    # Said without what the last note added: it is a likeness of profiles, no vote.
    correlation = _correlation(_turned(weights, best[2]), profile)
    return KeyGuess(best[3], correlation, best[0] - second[0])


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
