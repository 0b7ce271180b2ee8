"""How well does a chord belong to a key, by itself and before the next one?

Conventions: a degree is counted in semitones above the tonic, 0 to 11; grades are those of
`key_centres.toml`, whose sources stand there.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from kit.form.harmony import Change
from kit.tune.chord import ChordSymbol
from kit.tune.pitch import Key

__all__ = [
    "Cadence",
    "Candidate",
    "Heard",
    "belongs",
    "cadence",
    "candidates",
    "fits",
    "heard",
    "is_foreign",
    "is_tonic",
    "weight",
]

_NATURAL_MODES = {"major": "major", "ionian": "major", "minor": "minor", "aeolian": "minor"}
_SCALES = {
    "major": frozenset({0, 2, 4, 5, 7, 9, 11}),
    # With both sevenths: the raised one belongs to the dominant (harmonic minor).
    "minor": frozenset({0, 2, 3, 5, 7, 8, 10, 11}),
}
_ENOUGH = 0.6
"""A chord of this grade is one that a dominant may lead to within the key."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What a chord is heard as: its root and notes as pitch classes, and its class."""

    root: int
    tones: frozenset[int]
    kind: str
    length: float = 1.0

    @property
    def leads(self) -> bool:
        """Whether it is a chord that wants to go on: a dominant."""
        return self.kind == "dominant"

    def up_to(self, other: Heard) -> int:
        """Semitones from its root up to the other's, 0 to 11."""
        return (other.root - self.root) % 12


@dataclass(frozen=True, slots=True)
class Candidate:
    """A key to compare: its tonic as a pitch class, its mode, its scale in degrees."""

    tonic: int
    mode: str
    scale: frozenset[int]
    relation: str = ""

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        return 3 in self.scale and 4 not in self.scale

    @property
    def shape(self) -> str:
        """The column of the table it is judged by: ``major``, ``minor`` or ``mode``."""
        return "mode" if self.is_modal else self.mode

    @property
    def is_modal(self) -> bool:
        """Whether it is neither major nor minor."""
        return self.mode not in _SCALES


@cache
def _table() -> dict[str, Any]:
    text = files("kit.form").joinpath("key_centres.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _grades(mode: str) -> dict[tuple[int, str], float]:
    return {
        (degree, kind): float(grade)
        for row in _table()[mode]
        for degree, kind, grade in row["chords"]
    }


@dataclass(frozen=True, slots=True)
class Cadence:
    """What a pair of chords adds to a key, and whether it reaches or aims at its tonic."""

    worth: float = 0.0
    proof: str = "none"
    final: bool = False


_NO_CADENCE = Cadence()


@cache
def _cadences(shape: str) -> dict[tuple[int, str, int, str], Cadence]:
    """Read the table for one shape of key; ``tonic`` is a class of its own there."""
    found: dict[tuple[int, str, int, str], Cadence] = {}
    for row in _table()["cadence"]:
        if shape not in row["modes"]:
            continue
        after: list[tuple[int, str]] = (
            [(0, "tonic")] if row["after"] == "tonic" else row["after"]
        )
        entry = Cadence(float(row["worth"]), row["proof"], row.get("final", False))
        for one, kind in row["before"]:
            for two, goal in after:
                found.setdefault((one, kind, two, goal), entry)
    return found


@cache
def weight(name: str) -> float:
    """Give a weight of the table.

    Raises
    ------
    KeyError
        If the table has none of that name.
    """
    return float(_table()["weights"][name])


def heard(change: Change, usual: float) -> Heard:
    """Take a chord with notes for what the ear hears.

    Parameters
    ----------
    change : Change
        Its symbol has a root and notes.
    usual : float > 0
        How long a chord usually holds there, in quarter notes. What counts is how a chord
        stands out against the others, not the meter: twice as long weighs twice as much,
        and no more than that.
    """
    symbol = change.symbol
    assert symbol.root is not None
    tones = frozenset(name.pitch_class for name in symbol.note_names)
    length = min(2.0, max(0.5, float(change.duration) / usual))
    return Heard(symbol.root.pitch_class, tones, _kind(symbol), length)


def _kind(symbol: ChordSymbol) -> str:
    notes = set(symbol.notes)
    # Seventh and fourth make a dominant too: the suspended chord stands in its place.
    if (7, -1) in notes and (3, -1) not in notes and {(3, 0), (4, 0)} & notes:
        return "dominant"
    if (3, -1) in notes and (5, -1) in notes:
        return "half-diminished" if (7, -1) in notes else "diminished"
    if (3, -1) in notes:
        return "minor"
    if {(3, 0), (5, 1)} <= notes:
        return "augmented"
    # Without a third it could be major or minor: it tells the tonic, not the mode.
    return "major" if (3, 0) in notes else "open"


def candidates(home: Key) -> tuple[Candidate, ...]:
    """Give the keys to compare, home first, then by their distance above it.

    The order is the same in every key, so that a tie is decided alike wherever the music
    is transposed to. In a church mode home stands for the plain key on its tonic.
    """
    tonic = home.tonic.pitch_class
    natural = _NATURAL_MODES.get(home.mode)
    shape = "minor" if home.is_minor else "major"
    if natural is None:
        degrees = frozenset((name.pitch_class - tonic) % 12 for name in home.scale)
        found = [Candidate(tonic, home.mode, degrees, "home")]
    else:
        found = [Candidate(tonic, natural, _SCALES[natural], "home")]
    relative = (tonic + (3 if home.is_minor else 9)) % 12
    for step in range(12):
        for mode, scale in _SCALES.items():
            if step == 0 and mode == shape:
                continue
            place = (tonic + step) % 12
            near = natural and place == relative and mode != shape
            found.append(Candidate(place, mode, scale, "relative" if near else ""))
    return tuple(found)


def is_tonic(chord: Heard, key: Candidate) -> bool:
    """Whether the chord is the tonic of the key, in its own mode."""
    if chord.root != key.tonic:
        return False
    if key.is_modal:
        # A mixolydian tonic may have its seventh, a locrian one is diminished.
        return all((tone - key.tonic) % 12 in key.scale for tone in chord.tones)
    return chord.kind in (("minor" if key.is_minor else "major"), "open")


def is_foreign(chord: Heard, key: Candidate) -> bool:
    """Whether the key does not know the chord, by itself."""
    return _own(chord, key) <= weight("foreign")


def cadence(before: Heard, chord: Heard, key: Candidate, *, final: bool) -> Cadence:
    """Say what two neighbouring chords add to a key, the best reading of the table."""
    kinds = ("tonic", chord.kind) if is_tonic(chord, key) else (chord.kind,)
    one, two = (before.root - key.tonic) % 12, (chord.root - key.tonic) % 12
    kind = "major" if before.kind == "open" else before.kind
    return _best_cadence(key.shape, one, kind, two, kinds, final)


@cache
def _best_cadence(
    shape: str, one: int, before: str, two: int, kinds: tuple[str, ...], final: bool
) -> Cadence:
    table = _cadences(shape)
    best = _NO_CADENCE
    for kind in (before, "any"):
        for goal in kinds:
            found = table.get((one, kind, two, goal), _NO_CADENCE)
            if found.worth > best.worth and (final or not found.final):
                best = found
    return best


def belongs(chord: Heard, key: Candidate) -> bool:
    """Whether the chord is one of the key's own, which a dominant may lead to within it."""
    return _own(chord, key) >= _ENOUGH


def fits(row: Sequence[Heard], key: Candidate) -> list[float]:
    """Grade each chord of a row in a key, dominants by where they lead."""
    graded = [0.0] * len(row)
    # From the end, since a dominant is worth what comes after it.
    for place in range(len(row) - 1, -1, -1):
        chord = row[place]
        own = _own(chord, key)
        if place + 1 < len(row):
            own = max(own, _leading(row, place, key, graded))
        graded[place] = own
    share = weight("scale")
    return [
        grade + share * _inside(chord, key)
        for grade, chord in zip(graded, row, strict=True)
    ]


def _inside(chord: Heard, key: Candidate) -> float:
    inside = sum((tone - key.tonic) % 12 in key.scale for tone in chord.tones)
    return inside / len(chord.tones)


def _own(chord: Heard, key: Candidate) -> float:
    degree = (chord.root - key.tonic) % 12
    if not key.is_modal:
        kinds = ("major", "minor") if chord.kind == "open" else (chord.kind,)
        grades = _grades(key.mode)
        return max(grades.get((degree, kind), weight("foreign")) for kind in kinds)
    outside = sum((tone - key.tonic) % 12 not in key.scale for tone in chord.tones)
    mode = _table()["mode"]
    if outside:
        return float(mode["nearly"]) if outside == 1 else weight("foreign")
    return float(mode["tonic"] if degree == 0 else mode["inside"])


def _leading(
    row: Sequence[Heard], place: int, key: Candidate, graded: Sequence[float]
) -> float:
    chord, after = row[place], row[place + 1]
    step = chord.up_to(after)
    if chord.kind == "dominant" and step in (5, 11):
        goal = graded[place + 1] if after.leads else _own(after, key)
        if goal >= _ENOUGH:
            return weight("chain" if after.leads else "applied")
    # II7 before ii and V: the dominant turns into the minor chord on its own root.
    if (
        chord.kind == "dominant"
        and step == 0
        and after.kind == "minor"
        and belongs(after, key)
    ):
        return weight("applied")
    # A plain major chord is a dominant only if it falls a fifth onto a chord of the key.
    if chord.kind == "major" and step == 5 and _own(after, key) >= _ENOUGH:
        third = (chord.root + 4 - key.tonic) % 12
        if third not in key.scale:
            return weight("applied")
    if chord.kind == "diminished" and step == 1 and _own(after, key) >= _ENOUGH:
        return weight("applied")
    # The ii of an applied dominant belongs where the dominant belongs.
    if chord.kind in ("minor", "half-diminished") and after.leads and step in (5, 11):
        goes_on = graded[place + 1] >= weight("chain")
        return weight("chain" if goes_on else "foreign")
    return weight("foreign")
