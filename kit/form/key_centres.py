"""On which keys do the changes of a stretch centre, and where does each hold?

Conventions
-----------
* Bars are indices into the unfolded tune.
* A written key change is believed: no centre reaches over one.
* The centres of a stretch follow one another without a gap; together they hold all of its
  chords that have notes.

Source: common practice of harmony, as the usual textbooks teach it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby

from kit.form.harmony import (
    Cadence,
    Change,
    cadences,
    changes,
    is_blues_home,
    is_major,
    is_minor,
    key_on,
)
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Key

__all__ = ["KeyCentre", "key_centre", "key_centres", "main_key"]

_CADENCE_WEIGHT = {"ii–V–I": 0.2, "V–I": 0.1, "ii–V": 0.03}
"""What a cadence adds to its goal when keys are compared; our own weighing."""


@dataclass(frozen=True, slots=True)
class KeyCentre:
    """A run of chords and the key they centre on.

    Parameters
    ----------
    key : Key
        May be in a mode (``A dorian``). Of a chain of dominants it is the key that the
        chain leads through: the signature's own, or where the last of them resolves.
    chords : tuple of Change
        The chords of the run, at least one; chords without notes are left out.
    certain : bool
        Whether the chords leave no other reading nearly as good. What is not certain is
        not told to students as a fact.
    dominants : bool
        Whether the run is a chain of dominants, each leading to the next (D7 G7 C7 F7).
    """

    key: Key
    chords: tuple[Change, ...]
    certain: bool = True
    dominants: bool = False

    @property
    def first(self) -> int:
        """Index of the bar in which the first chord starts."""
        return self.chords[0].bar

    @property
    def duration(self) -> Fraction:
        """How long its chords hold, in quarter notes."""
        return sum((change.duration for change in self.chords), Fraction(0))


def key_centres(
    played: Tune, first: int = 0, last: int | None = None
) -> tuple[KeyCentre, ...]:
    """Give the key centres of a stretch of bars, in order.

    Parameters
    ----------
    played : Tune
        Unfolded, at concert pitch or in a written key.
    first, last : int
        Indices of the first and last bar; the whole tune unless said.

    Returns
    -------
    tuple of KeyCentre
        Neighbours differ; empty where there is no chord with notes.
    """
    final = len(played.bars) - 1 if last is None else last
    found: list[KeyCentre] = []
    heard = (c for c in changes(played, first, final) if c.symbol.note_names)
    for home, run in groupby(heard, key=lambda change: played.bars[change.bar].key):
        chords = tuple(run)
        found.append(KeyCentre(key_centre(chords, home), chords))
    return tuple(found)


def main_key(centres: Sequence[KeyCentre], home: Key) -> Key:
    """Give the one key for whoever needs one: where the chords stay longest.

    Of equals the first; `home` without any centre.
    """
    time: defaultdict[Key, Fraction] = defaultdict(Fraction)
    for centre in centres:
        time[centre.key] += centre.duration
    return max(time, key=lambda key: time[key], default=home)


def key_centre(chords: Sequence[Change], home: Key) -> Key:
    """Give the key that a row of chords centres on; `home` without any chord.

    A chord scores by the share of its notes in the key (in minor the leading note
    belongs too), times its length; each cadence adds to its goal.
    """
    if not any(change.symbol.note_names for change in chords):
        return home
    candidates = _candidate_keys(chords, home)
    targets = cadences(chords, home)
    if _is_blues(chords, targets, home):
        return home
    return max(candidates, key=lambda key: _key_score(key, chords, targets, home))


def _is_blues(chords: Sequence[Change], targets: Sequence[Cadence], home: Key) -> bool:
    """Whether a dominant on the home tonic is at rest for a quarter of the time or more."""
    leaves = any(is_blues_home(cadence.chords[-2], home) for cadence in targets)
    at_rest = [c.duration for c in chords if is_blues_home(c.symbol, home)]
    total = sum((c.duration for c in chords), Fraction(0))
    return not leaves and 4 * sum(at_rest, Fraction(0)) >= total


def _candidate_keys(chords: Sequence[Change], home: Key) -> list[Key]:
    keys = [home]
    for change in chords:
        root = change.symbol.root
        if root is not None:
            keys += [key_on(root, minor=False), key_on(root, minor=True)]
    keys += [cadence.goal for cadence in cadences(chords, home)]
    return [key for key in dict.fromkeys(keys) if -7 <= key.fifths <= 7]


def _key_score(
    key: Key, chords: Sequence[Change], targets: Sequence[Cadence], home: Key
) -> float:
    inside = {name.pitch_class for name in key.scale}
    if key.is_minor:
        tonic = key.tonic.pitch_class
        inside |= {(tonic + 11) % 12}
    fit = total = 0.0
    for change in chords:
        tones = [name.pitch_class for name in change.symbol.note_names]
        if tones:
            length = float(change.duration)
            total += length
            fit += length * sum(tone in inside for tone in tones) / len(tones)
    score = fit / total if total else 0.0
    score += sum(
        _CADENCE_WEIGHT[cadence.kind]
        for cadence in targets
        if _same_tonic(cadence.goal, key)
    )
    # Stretches begin and end at home more often than not (common practice).
    score += sum(
        0.08 for change in (chords[0], chords[-1]) if _is_tonic(change.symbol, key)
    )
    if _same_tonic(key, home):
        score += 0.02
        score += sum(0.08 for c in (chords[0], chords[-1]) if is_blues_home(c.symbol, home))
    return score


def _same_tonic(one: Key, other: Key) -> bool:
    return (
        one.tonic.pitch_class == other.tonic.pitch_class and one.is_minor == other.is_minor
    )


def _is_tonic(symbol: ChordSymbol, key: Key) -> bool:
    if symbol.root is None or symbol.root.pitch_class != key.tonic.pitch_class:
        return False
    return is_minor(symbol) if key.is_minor else is_major(symbol)
