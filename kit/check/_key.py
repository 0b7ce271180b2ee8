"""Do the notes contradict the key signature?

The key is estimated from how long each pitch class sounds (`kit.tune.key_find`) and
compared with the signature, stretch by stretch where the signature changes. An estimate is
only an estimate, so it has to be backed by the accidentals: the notes must lie outside the
declared signature for more of the time than they lie outside the estimated one. Keys with
the same signature are not told apart.

Source: the method of `kit.tune.key_find`; the two margins are our own choice, measured on
declared keys (docs/teacher/checks.md).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from kit.check._leaf import Leaf
from kit.check.finding import Finding
from kit.tune.key_find import find_key
from kit.tune.model import Bar
from kit.tune.pitch import Key
from kit.tune.sounding import sounding

__all__ = ["LEAST_LEAD", "LEAST_SHARE", "key_findings"]

LEAST_LEAD = 0.03
"""How much better than the next best key the estimate must fit, as a correlation."""
LEAST_SHARE = 0.06
"""How much more of the time the notes must be outside the declared signature."""
_LEAST_NOTES = 12


def key_findings(leaf: Leaf) -> Iterator[Finding]:
    """Yield a hint for each stretch whose notes fit another signature clearly better."""
    bars = leaf.tune.bars
    for key, group in groupby(range(len(bars)), lambda index: bars[index].key):
        indices = list(group)
        stretch = tuple(bars[index] for index in indices)
        likely = _better_key(stretch, key)
        if likely is not None:
            yield leaf.finding(
                "hint",
                "key-signature",
                f"the signature is that of {key}, and the notes rather make {likely}",
                remedy=f"change the key signature to {likely}, or leave it if the tune "
                "wanders on purpose",
                bars=indices,
            )


def _better_key(bars: tuple[Bar, ...], declared: Key) -> Key | None:
    weights = [0.0] * 12
    count = 0
    for note in sounding(bars):
        weights[note.pitch.midi % 12] += float(note.duration)
        count += 1
    if count < _LEAST_NOTES or max(weights) <= min(weights):
        return None
    guess = find_key(weights)
    if (guess.key.fifths - declared.fifths) % 12 == 0 or guess.lead < LEAST_LEAD:
        return None
    gain = _outside(weights, declared) - _outside(weights, guess.key)
    return guess.key if gain >= LEAST_SHARE else None


def _outside(weights: Sequence[float], key: Key) -> float:
    """Give the share of the time that the notes lie outside a key's scale.

    In minor the raised sixth and seventh belong to the scale (common practice).
    """
    inside = {name.pitch_class for name in key.scale}
    if key.is_minor:
        tonic = key.tonic.pitch_class
        inside |= {(tonic + 9) % 12, (tonic + 11) % 12}
    total = sum(weights)
    return (
        sum(w for pitch_class, w in enumerate(weights) if pitch_class not in inside) / total
    )
