"""The chord symbol: one canonical meaning, one printed style.

Conventions
-----------
* Kinds are the values of MusicXML 4.0's ``kind-value`` type, so that reading and writing
  lose nothing.
* Chord notes are given as degrees over the root: ``(3, -1)`` is the flat third. Degree 9
  is a ninth, not a second; its pitch class is that of degree 2.
* Printed accidentals are the real signs (``B♭7``), never letters.

Sources: MusicXML 4.0 (W3C Community Group Final Report), ``kind-value``; printed suffixes
are common practice.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from kit.tune.pitch import Interval, NoteName

__all__ = ["KINDS", "ChordKind", "ChordSymbol", "Degree", "degree_interval"]

# Of the major scale, whatever the chord: "9" on a minor chord is the same major ninth.
_DEGREE_SEMITONES = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 11}
_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}


@dataclass(frozen=True, slots=True)
class Degree:
    """One change to a chord kind, as MusicXML's ``degree`` element says it.

    For ``add``, `alter` counts from the major or dominant scale (a plain 7 is the minor
    seventh); for ``alter`` and ``subtract``, from the kind's own degree.
    """

    value: int
    alter: int = 0
    change: Literal["add", "alter", "subtract"] = "add"


@dataclass(frozen=True, slots=True)
class ChordKind:
    """What a kind prints after the root, says in words and contains.

    `notes` are ``(degree, alteration from the major scale)`` pairs.
    """

    suffix: str
    words: str
    notes: tuple[tuple[int, int], ...]


_MAJOR = ((1, 0), (3, 0), (5, 0))
_MINOR = ((1, 0), (3, -1), (5, 0))
# Printed as a bare 7: the minor seventh is the rule, the major one is named (maj7).
_DOMINANT = (*_MAJOR, (7, -1))
_MAJOR_SEVENTH = (*_MAJOR, (7, 0))
_MINOR_SEVENTH = (*_MINOR, (7, -1))
_9, _11, _13 = (9, 0), (11, 0), (13, 0)

KINDS: dict[str, ChordKind] = {
    "major": ChordKind("", "major", _MAJOR),
    "minor": ChordKind("m", "minor", _MINOR),
    "augmented": ChordKind("+", "augmented", ((1, 0), (3, 0), (5, 1))),
    "diminished": ChordKind("°", "diminished", ((1, 0), (3, -1), (5, -1))),
    "dominant": ChordKind("7", "seven", _DOMINANT),
    "major-seventh": ChordKind("maj7", "major seven", _MAJOR_SEVENTH),
    "minor-seventh": ChordKind("m7", "minor seven", _MINOR_SEVENTH),
    "diminished-seventh": ChordKind(
        "°7", "diminished seven", ((1, 0), (3, -1), (5, -1), (7, -2))
    ),
    "augmented-seventh": ChordKind(
        "+7", "augmented seven", ((1, 0), (3, 0), (5, 1), (7, -1))
    ),
    "half-diminished": ChordKind(
        "m7♭5", "minor seven flat five", ((1, 0), (3, -1), (5, -1), (7, -1))
    ),
    "major-minor": ChordKind("m(maj7)", "minor, major seven", (*_MINOR, (7, 0))),
    "major-sixth": ChordKind("6", "six", (*_MAJOR, (6, 0))),
    "minor-sixth": ChordKind("m6", "minor six", (*_MINOR, (6, 0))),
    "dominant-ninth": ChordKind("9", "nine", (*_DOMINANT, _9)),
    "major-ninth": ChordKind("maj9", "major nine", (*_MAJOR_SEVENTH, _9)),
    "minor-ninth": ChordKind("m9", "minor nine", (*_MINOR_SEVENTH, _9)),
    "dominant-11th": ChordKind("11", "eleven", (*_DOMINANT, _9, _11)),
    "major-11th": ChordKind("maj11", "major eleven", (*_MAJOR_SEVENTH, _9, _11)),
    "minor-11th": ChordKind("m11", "minor eleven", (*_MINOR_SEVENTH, _9, _11)),
    "dominant-13th": ChordKind("13", "thirteen", (*_DOMINANT, _9, _11, _13)),
    "major-13th": ChordKind("maj13", "major thirteen", (*_MAJOR_SEVENTH, _9, _11, _13)),
    "minor-13th": ChordKind("m13", "minor thirteen", (*_MINOR_SEVENTH, _9, _11, _13)),
    "suspended-second": ChordKind("sus2", "suspended two", ((1, 0), (2, 0), (5, 0))),
    "suspended-fourth": ChordKind("sus4", "suspended four", ((1, 0), (4, 0), (5, 0))),
    # The sixths below are named by the tonic they belong to, as in music21.harmony.
    "Neapolitan": ChordKind("N6", "Neapolitan sixth", ((2, -1), (4, 0), (6, -1))),
    "Italian": ChordKind("It6", "Italian sixth", ((1, 0), (4, 1), (6, -1))),
    # The sixths of classical harmony stand on the flat sixth of the key, their root here.
    "French": ChordKind("Fr6", "French sixth", ((1, 0), (2, 0), (4, 1), (6, -1))),
    "German": ChordKind("Ger6", "German sixth", ((1, 0), (3, -1), (4, 1), (6, -1))),
    "pedal": ChordKind(" pedal", "pedal", ((1, 0),)),
    "power": ChordKind("5", "power chord", ((1, 0), (5, 0))),
    "Tristan": ChordKind("Tristan", "Tristan", ((1, 0), (4, 1), (6, 1), (9, 1))),
    # No notes that we could vouch for: nothing is played or advised over it.
    "other": ChordKind("", "chord", ()),
    "none": ChordKind("N.C.", "no chord", ()),
}

_ALTERED = frozenset({(5, -1), (5, 1), (9, -1), (9, 1)})


@lru_cache(maxsize=4096)
def _spelled(chord: ChordSymbol) -> tuple[NoteName, ...]:
    # Harmony is asked for the notes of a few chords thousands of times.
    root = chord.root
    if root is None:
        return ()
    return tuple(root + degree_interval(*note) for note in chord.notes)


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord as the player reads it; `root` is None only for the kind ``none``."""

    root: NoteName | None
    kind: str = "major"
    degrees: tuple[Degree, ...] = ()
    bass: NoteName | None = None
    # Not compared: the same unknown chord in two spellings is still unknown.
    text: str = field(default="", compare=False)
    """How the source spelled the suffix, kept only for kind ``other``."""

    def __post_init__(self) -> None:
        """Refuse a kind that MusicXML does not know."""
        if self.kind not in KINDS:
            raise ValueError(f"{self.kind!r} is not a MusicXML chord kind")

    @property
    def notes(self) -> tuple[tuple[int, int], ...]:
        """The chord's ``(degree, alteration)`` pairs, lowest degree first, bass aside."""
        notes = dict(KINDS[self.kind].notes)
        # Not in the mapping: an altered dominant has two ninths, flat and sharp.
        extra: list[tuple[int, int]] = []
        for degree in self.degrees:
            if degree.change == "subtract":
                # Taking out what is not there is no error: files say no3 of power chords.
                notes.pop(degree.value, None)
            elif degree.change == "alter":
                # A degree that the kind lacks is added altered: 7♯11 has no plain eleventh.
                notes[degree.value] = notes.get(degree.value, 0) + degree.alter
            else:
                # As in a dominant; the major seventh must be asked for by its own name.
                plain = -1 if degree.value == 7 else 0
                extra.append((degree.value, plain + degree.alter))
        return tuple(sorted({*notes.items(), *extra}))

    @property
    def note_names(self) -> tuple[NoteName, ...]:
        """The chord notes spelled over the root, in the order of `notes`."""
        return _spelled(self)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of the chord with its bass note."""
        # A bass outside of the chord (C/D) colours it, so it counts as one of its notes.
        names = self.note_names + ((self.bass,) if self.bass else ())
        return frozenset(name.pitch_class for name in names)

    @property
    def suffix(self) -> str:
        """What stands after the root in print, the bass left out."""
        if self.kind == "other":
            return self.text
        return _suffix(self.kind, self.degrees)

    def degree(self, *numbers: int) -> NoteName | None:
        """Give the first chord note with one of these degree numbers, if any."""
        for number in numbers:
            for note in self.notes:
                if note[0] == number and self.root is not None:
                    return self.root + degree_interval(*note)
        return None

    def __add__(self, interval: Interval) -> ChordSymbol:
        """Transpose root and bass."""
        return ChordSymbol(
            self.root + interval if self.root else None,
            self.kind,
            self.degrees,
            self.bass + interval if self.bass else None,
            self.text,
        )

    def __str__(self) -> str:
        """Print as on a lead sheet: ``E♭m7♭5/A``."""
        if self.root is None:
            return KINDS["none"].suffix
        slash = f"/{self.bass}" if self.bass else ""
        return f"{self.root}{self.suffix}{slash}"


def degree_interval(degree: int, alter: int) -> Interval:
    """Give the interval from a root up to a degree altered by semitones.

    Parameters
    ----------
    degree : int > 0
        Counted in the major scale: 3 is a major third, 9 a major ninth.
    alter : int
        Semitones up, negative down, from that degree.

    Examples
    --------
    >>> degree_interval(9, -1).name
    'm9'
    """
    octaves, simple = divmod(degree - 1, 7)
    return Interval(degree - 1, 12 * octaves + _DEGREE_SEMITONES[simple + 1] + alter)


def _suffix(kind: str, degrees: tuple[Degree, ...]) -> str:
    base = KINDS[kind].suffix
    changes = {(d.value, d.alter) for d in degrees if d.change != "subtract"}
    # One word is read at sight, four changes in brackets are not (common practice).
    if kind == "dominant" and changes >= _ALTERED:
        return "7alt"
    rest = list(degrees)
    if kind in ("suspended-fourth", "suspended-second"):
        base, rest = _suspended(base, rest)
    # Six and nine without a seventh print as 6/9, not as 6add9 (common practice).
    elif kind in ("major-sixth", "minor-sixth") and Degree(9) in rest:
        rest.remove(Degree(9))
        base = f"{base}/9"
    words = [_degree_text(degree) for degree in rest]
    if not words:
        return base
    bare = len(words) == 1 and (kind != "major" or words[0].startswith(("add", "no")))
    # A sign right behind the root would read as part of its name (C and flat five).
    return f"{base}{words[0]}" if bare and base else f"{base}({','.join(words)})"


def _suspended(base: str, degrees: list[Degree]) -> tuple[str, list[Degree]]:
    """Print the seventh, ninth or thirteenth of a suspended chord before ``sus``."""
    for number in (13, 9, 7):
        # The highest number implies those below it: 13sus4 holds the seventh and the ninth.
        below = {Degree(n) for n in (7, 9, 13) if n <= number}
        if below <= set(degrees):
            return f"{number}{base}", [d for d in degrees if d not in below]
    return base, degrees


def _degree_text(degree: Degree) -> str:
    number = f"{_SIGNS.get(degree.alter, '')}{degree.value}"
    if degree.change == "subtract":
        return f"no{degree.value}"
    # Nobody writes a sharp seven: the raised seventh is called major (common practice).
    if degree == Degree(7, 1):
        return "maj7"
    if degree.change == "add" and degree.alter == 0:
        return f"add{number}"
    return number
