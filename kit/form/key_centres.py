"""On which keys do the changes of a stretch centre, and where does each hold?

Conventions
-----------
* Bars are indices into the unfolded tune.
* Declared modes and written key changes are believed: no centre reaches over a change of
  signature, and a mode is home under its own name.
* The centres of a stretch follow one another without a gap; together they hold all of its
  chords that have notes.
* A dominant on the tonic that stays at rest is a blues, and home.
* In a vamp of two chords the first is the tonic, unless one of them is the tonic that
  the signature names.
* Dominants of which each leads to the next, and none comes to rest, are no key of their
  own: they are told as a chain.

Source: common practice of harmony, as the usual textbooks teach it; the grades and weights
in key_centres.toml are our own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise
from statistics import median

from kit.form._chord_in_key import (
    Candidate,
    Heard,
    candidates,
    heard,
    is_foreign,
    is_tonic,
    weight,
)
from kit.form._key_path import Graded, Stretch, best_path, graded
from kit.form._key_patterns import blues_tonic, chain_goal, vamp
from kit.form._key_visits import without_lead_back, without_visits
from kit.form.harmony import Change, changes
from kit.tune.model import Tune
from kit.tune.pitch import Key

__all__ = ["KeyCentre", "centres_of", "key_centre", "key_centres", "main_key"]

_PHRASE = 4
"""Bars after which a phrase may begin (common practice)."""
_MOST_ACCIDENTALS = 7
_FAIR = 0.4
"""A chord below this is foreign to the key, its tones counted in."""
_MOST_FOREIGN = 0.2
"""The share of foreign chords that a certain key bears."""
_ON_FIVE = ("dominant", "major")


@dataclass(frozen=True, slots=True)
class KeyCentre:
    """A run of chords and the key they centre on.

    Parameters
    ----------
    key : Key
        May be in a mode (``A dorian``). Of a chain of dominants it is the key that the
        chain leads home to.
    chords : tuple of Change
        The chords of the run, at least one; chords without notes are left out.
    certain : bool
        Whether the key is borne out and no other is nearly as good. What is not certain is
        not told to students as a fact.
    dominants : bool
        Whether the run is a chain of dominants, each leading to the next (D7 G7 C7 F7).
    borne_out : bool
        Whether anything speaks for the key at all: a cadence, a close on the dominant, a
        declared mode, a blues. Without it the key is only the best guess.
    """

    key: Key
    chords: tuple[Change, ...]
    certain: bool = True
    dominants: bool = False
    borne_out: bool = True

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
    every = changes(played, first, final)
    found: list[KeyCentre] = []
    for home, run in groupby(every, key=lambda change: played.bars[change.bar].key):
        for centre in centres_of(tuple(run), home):
            if found and found[-1].key == centre.key and not centre.dominants:
                found[-1] = _together(found[-1], centre)
            else:
                found.append(centre)
    return tuple(found)


def _together(one: KeyCentre, other: KeyCentre) -> KeyCentre:
    """Join the two sides of a signature that is written after its key was reached."""
    return replace(
        other,
        chords=one.chords + other.chords,
        certain=one.certain and other.certain,
        borne_out=one.borne_out or other.borne_out,
    )


def key_centre(chords: Sequence[Change], home: Key) -> Key:
    """Give the one key that a row of chords centres on; `home` without any chord.

    Parameters
    ----------
    chords : sequence of Change
        In playing order, as `kit.form.harmony.changes` gives them.
    home : Key
        The key of the signature, with its mode.
    """
    return main_key(centres_of(chords, home), home)


def main_key(centres: Sequence[KeyCentre], home: Key) -> Key:
    """Give the one key for whoever needs one; `home` without any centre.

    It is the key of two thirds of the time, or else the one in which all chords together
    are heard best: a centre, home, or of two centres a third key whose tonic is reached
    among them. Where a tonic is only aimed at and never heard, the time counts half.
    """
    time: defaultdict[Key, Fraction] = defaultdict(Fraction)
    for centre in centres:
        time[centre.key] += centre.duration / (1 if _rests(centre) else 2)
    longest = max(time, key=lambda key: time[key], default=home)
    if 3 * time[longest] >= 2 * sum(time.values()):
        return longest
    chords = tuple(change for centre in centres for change in centre.chords)
    row = _row(chords)
    totals: dict[Key, float] = {}
    for candidate in candidates(home):
        key, grade = _named(candidate, chords, home), graded(row, candidate)
        reached = any(pair.proof == "rest" for pair in grade.pairs)
        # Two keys may be two sides of a third; three and more are a way through keys.
        third = len(time) == 2 and candidate.tonic != home.tonic.pitch_class
        if key == home or key in time or (third and reached):
            totals[key] = _total(grade, candidate, 0, len(row) - 1)
    return max(totals, key=lambda key: totals[key])


def _rests(centre: KeyCentre) -> bool:
    tonic = centre.key.tonic.pitch_class
    roots = [change.symbol.root for change in centre.chords]
    return any(root is not None and root.pitch_class == tonic for root in roots)


def centres_of(every: Sequence[Change], home: Key) -> tuple[KeyCentre, ...]:
    """Give the key centres of a row of chords under one signature, in order.

    Parameters
    ----------
    every : sequence of Change
        In playing order, as `kit.form.harmony.changes` gives them.
    home : Key
        The key of the signature, with its mode.

    Returns
    -------
    tuple of KeyCentre
        Neighbours differ; empty where there is no chord with notes.
    """
    chords = tuple(change for change in every if change.symbol.note_names)
    if not chords:
        return ()
    row = _row(chords)
    whole = _taken_whole(chords, row, home)
    known = _known(every)
    if whole is not None:
        return (replace(whole, certain=whole.certain and known),)
    keys = candidates(home)
    grades = [graded(row, key) for key in keys]
    bars = _bars(chords)
    path = without_visits(best_path(keys, grades, _grid(chords)), row, keys, grades, bars)
    path = without_lead_back(path, row, keys, bars)
    found = []
    for part in path:
        held = chords[part.first : part.last + 1]
        key = _named(keys[part.key], held, home)
        borne_out, certain = _evidence(part, len(path) > 1, row, keys, grades)
        found.append(KeyCentre(key, held, certain and known, borne_out=borne_out))
    return tuple(found)


def _known(every: Sequence[Change]) -> bool:
    """Whether most chords are known; a bar without chord (N.C.) is no unknown one."""
    unknown = [c.duration for c in every if c.symbol.root and not c.symbol.note_names]
    total = sum((change.duration for change in every), Fraction(0))
    return 4 * sum(unknown, Fraction(0)) <= total


def _row(chords: Sequence[Change]) -> list[Heard]:
    usual = float(median(change.duration for change in chords)) or 1.0
    return [heard(change, usual) for change in chords]


def _total(grade: Graded, key: Candidate, first: int, last: int) -> float:
    return grade.total(first, last) + (weight(key.relation) if key.relation else 0.0)


def _taken_whole(
    chords: tuple[Change, ...], row: Sequence[Heard], home: Key
) -> KeyCentre | None:
    """Hear a chain of dominants, a blues or a vamp."""
    at_home = candidates(home)[0]
    goal = chain_goal(row, at_home.tonic)
    if goal is not None:
        # To the dominant of home is on the way home (a bridge that ends on V of V).
        is_home = (goal - at_home.tonic) % 12 in (0, 7)
        key = home if is_home else _named(_plain(goal), chords, home)
        return KeyCentre(key, chords, dominants=True)
    tonic = blues_tonic(row, at_home.tonic)
    if tonic is not None:
        is_home = tonic == at_home.tonic and not home.is_minor
        key = home if is_home else _named(_plain(tonic), chords, home)
        # Under another signature it is one no less, but that is for the teacher to say.
        return KeyCentre(key, chords, certain=is_home)
    found = vamp(row, at_home)
    if found is not None and found.at_home:
        known = not any(is_foreign(chord, at_home) for chord in row)
        return KeyCentre(home, chords, certain=known, borne_out=known)
    if found is not None:
        key = Key.parse(f"{chords[0].symbol.root} {found.mode}")
        # Nothing but its place makes the first chord the tonic.
        return KeyCentre(_signature(key.fifths, key.mode), chords, certain=False)
    return None


def _plain(tonic: int) -> Candidate:
    return Candidate(tonic, "major", frozenset())


def _bars(chords: Sequence[Change]) -> list[float]:
    """Say how many bars each chord holds, the bar taken from where chords start."""
    lengths = [
        (one.duration + one.onset - two.onset) / (two.bar - one.bar)
        for one, two in pairwise(chords)
        if two.bar > one.bar
    ]
    bar = median(lengths) if lengths else sum(change.duration for change in chords)
    return [float(change.duration / bar) if bar > 0 else 0.0 for change in chords]


def _grid(chords: Sequence[Change]) -> list[bool]:
    """Say for each chord whether a phrase of four bars may begin with it."""
    start = chords[0].bar
    return [
        (change.bar - start) % _PHRASE == 0 and (k == 0 or chords[k - 1].bar < change.bar)
        for k, change in enumerate(chords)
    ]


def _evidence(
    part: Stretch,
    moves: bool,
    row: Sequence[Heard],
    keys: Sequence[Candidate],
    grades: Sequence[Graded],
) -> tuple[bool, bool]:
    """Say whether anything speaks for the key of a part, and whether nothing against it."""
    key, own = keys[part.key], grades[part.key]
    held = row[part.first : part.last + 1]
    at_rest = any(is_tonic(chord, key) and chord.kind != "open" for chord in held)
    pairs = own.pairs[part.first + 1 : part.last + 1]
    closes = any(pair.worth > 0 for pair in pairs)
    on_five = held[-1].root == (key.tonic + 7) % 12 and held[-1].kind in _ON_FIVE
    is_home = key.relation == "home"
    # The home tonic alone is no key; set against other keys it is the one that is left.
    set_off = is_home and moves and (at_rest or on_five)
    borne_out = closes or set_off or (at_rest and (on_five or key.is_modal))
    # Where half of the chords are foreign to the best of keys, there is none.
    worths = own.chords[part.first : part.last + 1]
    time = sum(chord.length for chord in held)
    borne_out = borne_out and sum(worths) >= weight("belong") * time
    foreign = sum(
        c.length for c, w in zip(held, worths, strict=True) if w < _FAIR * c.length
    )
    rivals = [
        _total(grade, k, part.first, part.last)
        for place, (k, grade) in enumerate(zip(keys, grades, strict=True))
        # Whether home is major or minor is the signature's to say.
        if place != part.key and not (is_home and k.tonic == key.tonic)
    ]
    lead = _total(own, key, part.first, part.last) - max(rivals)
    # A tonic that is only aimed at is a guess; home needs no more after other keys.
    clear = lead >= weight("clear") and (at_rest or (is_home and moves))
    clear = (clear or key.is_modal) and foreign <= _MOST_FOREIGN * time
    # The home tonic after its own dominant leaves no question; a mode has no dominant.
    reached = is_home and not key.is_modal and any(pair.proof == "rest" for pair in pairs)
    return borne_out, borne_out and (clear or reached)


def _named(key: Candidate, chords: Sequence[Change], home: Key) -> Key:
    """Spell a key as its chords are spelled, else as near to home as can be."""
    if key.relation == "home":
        return home
    # A minor key has the signature of the major key three fifths lower.
    lift = 3 if key.is_minor else 0
    # The tonic's own name counts first, then what its dominant and its ii point to.
    for degree, fifths in ((0, 0), (7, 1), (2, 2)):
        for change in chords:
            root = change.symbol.root
            if root is not None and (root.pitch_class - key.tonic) % 12 == degree:
                return _signature(root.fifths - fifths - lift, key.mode)
    near = (7 * key.tonic - lift - home.fifths + 5) % 12 - 5
    return _signature(home.fifths + near, key.mode)


def _signature(fifths: int, mode: str) -> Key:
    # Beyond seven accidentals there is no signature: G♯ major is written as A♭ major.
    while fifths > _MOST_ACCIDENTALS:
        fifths -= 12
    while fifths < -_MOST_ACCIDENTALS:
        fifths += 12
    return Key(fifths, mode)
