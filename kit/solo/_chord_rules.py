"""Which scales do the rules of the trade name for a chord where it stands?

A rule asks for the kind of chord, the notes that its symbol states, the step of the key
that its root is on, and the chords before and after. The rules are in chord_scales.toml, in
the order in which they are asked; here is only how they are read.

Conventions
-----------
* Notes over a root are semitones, 0 to 11, so that ♯11 and ♭5 are one.
* A chord states what its symbol says and the bass note under it. A thirteenth chord over a
  major third does not state its eleventh, nor one with a sharp ninth or a flat thirteenth
  its plain fifth: they are never played (common practice).
* A chord over a foreign bass that makes a suspended chord of it (F/G) is that chord.

Source: common practice of jazz teaching; each rule names its own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from kit.tune.chord import ChordSymbol
from kit.tune.pitch import Key, NoteName

__all__ = ["OWN", "Standing", "scales_by_rule"]

OWN = "own"
"""Stands for the key's own notes from the chord's root."""

_NOTES = {
    "1": 0, "♭9": 1, "9": 2, "♯9": 3, "3": 4, "11": 5, "♯11": 6, "♭5": 6, "5": 7, "♯5": 8,
    "♭13": 8, "13": 9, "♭7": 10, "7": 11,
}  # fmt: skip
_DEGREES = {
    "I": 0, "♭II": 1, "II": 2, "♭III": 3, "III": 4, "IV": 5, "♯IV": 6, "V": 7, "♭VI": 8,
    "VI": 9, "♭VII": 10, "VII": 11,
}  # fmt: skip
_KINDS = frozenset({
    "dominant", "suspended", "major", "minor", "minor sixth", "minor major seventh",
    "augmented", "half-diminished", "diminished", "diminished seventh", "no third",
})  # fmt: skip
_GROUPS = {
    "chord": _KINDS,
    "minor chord": frozenset(
        {"minor", "minor sixth", "minor major seventh", "half-diminished"}
    ),
    "major chord": frozenset({"major", "augmented"}),
} | {kind: frozenset({kind}) for kind in _KINDS}
# A root a fifth below lies five semitones further up.
_FROM_ROOT = {
    "a fifth below": 5, "a fifth above": 7, "a half step below": 11, "on the same root": 0,
}  # fmt: skip
_FROM_TONIC = {"on I": 0, "on IV": 5}
# Named by the tonic that they lead to, not by a root on which a scale could be built.
_ROOTLESS = frozenset({"Neapolitan", "Italian", "French", "German", "Tristan"})


@dataclass(frozen=True, slots=True)
class Standing:
    """A chord where it stands: its root, its kind, and its notes over the root.

    `written` are all semitones over the root, `stated` those that a scale has to hold,
    `held_below` a bass note that is none of the chord's own.
    """

    root: NoteName
    kind: str
    written: frozenset[int]
    stated: frozenset[int]
    held_below: frozenset[int] = frozenset()

    @property
    def essential(self) -> frozenset[int]:
        """What is stated, without the plain fifth of a dominant."""
        return self.stated - {7} if self.kind == "dominant" else self.stated

    @classmethod
    def of(cls, symbol: ChordSymbol) -> Standing | None:
        """Look at a chord; None without a root or notes."""
        root = symbol.root
        if root is None or not symbol.notes:
            return None
        # By sound: the bass of C7/E is in the chord, that of F/G is not.
        names = {name.pitch_class for name in symbol.note_names}
        bass = symbol.bass
        if bass is not None and bass.pitch_class not in names:
            over_bass = _over(bass, symbol.pitch_classes)
            if {5, 10} <= over_bass and not {3, 4} & over_bass:
                return cls(bass, "suspended", over_bass, over_bass)
        plain = _over(root, frozenset(names))
        kind = "" if symbol.kind in _ROOTLESS else _kind(plain)
        written = _over(root, symbol.pitch_classes)
        stated = written - _left_out(symbol, kind, plain)
        return cls(root, kind, written, stated, written - plain)


def _over(root: NoteName, pitch_classes: frozenset[int]) -> frozenset[int]:
    return frozenset((pitch - root.pitch_class) % 12 for pitch in pitch_classes)


def _kind(notes: frozenset[int]) -> str:
    """Name the kind of a chord from its semitones over the root."""
    # A sharp ninth sounds like a minor third: a major third decides first.
    if 4 in notes:
        if 10 in notes:
            return "dominant"
        return "augmented" if notes == {0, 4, 8} else "major"
    if 3 in notes:
        return _minor_kind(notes)
    return "suspended" if 5 in notes else "no third"


def _minor_kind(notes: frozenset[int]) -> str:
    if 6 in notes and 7 not in notes:
        if 10 in notes:
            return "half-diminished"
        return "diminished seventh" if {9, 11} & notes else "diminished"
    if 11 in notes:
        return "minor major seventh"
    return "minor sixth" if 9 in notes and 10 not in notes else "minor"


def _left_out(symbol: ChordSymbol, kind: str, notes: frozenset[int]) -> frozenset[int]:
    """Give the notes that a symbol implies by the letter and nobody plays."""
    left_out = set()
    if symbol.kind in ("dominant-13th", "major-13th") and (11, 0) in symbol.notes:
        left_out.add(5)
    if kind == "dominant" and {3, 8} & notes:
        left_out.add(7)
    return frozenset(left_out)


@dataclass(frozen=True, slots=True)
class _Relation:
    """A neighbour: its kinds, and where its root lies from the chord's or the tonic."""

    kinds: frozenset[str]
    semitones: int
    from_tonic: bool

    @classmethod
    def parse(cls, text: str) -> _Relation:
        for places, from_tonic in ((_FROM_ROOT, False), (_FROM_TONIC, True)):
            for place, semitones in places.items():
                if text.endswith(f" {place}"):
                    kinds = _GROUPS[text.removesuffix(f" {place}")]
                    return cls(kinds, semitones, from_tonic)
        raise ValueError(f"{text!r} is not a chord and its place")

    def fits(self, neighbour: Standing | None, root: NoteName, key: Key) -> bool:
        if neighbour is None or neighbour.kind not in self.kinds:
            return False
        origin = key.tonic if self.from_tonic else root
        distance = neighbour.root.pitch_class - origin.pitch_class
        return distance % 12 == self.semitones


@dataclass(frozen=True, slots=True)
class _Rule:
    """A row of the table."""

    chord: str
    scales: tuple[str, ...]
    otherwise: tuple[str, ...]
    source: str
    states: frozenset[int]
    without: frozenset[int]
    key: str
    degrees: frozenset[int]
    before: _Relation | None
    after: _Relation | None
    beside: _Relation | None

    @classmethod
    def read(cls, row: Mapping[str, Any]) -> _Rule:
        def relation(name: str) -> _Relation | None:
            return _Relation.parse(row[name]) if name in row else None

        return cls(
            row["chord"],
            tuple(row["scales"]),
            tuple(row.get("otherwise", ())),
            row["source"],
            frozenset(_NOTES[note] for note in row.get("states", ())),
            frozenset(_NOTES[note] for note in row.get("without", ())),
            row.get("key", ""),
            frozenset(_DEGREES[degree] for degree in row.get("degree", ())),
            relation("before"),
            relation("after"),
            relation("beside"),
        )

    def fits(
        self, chord: Standing, key: Key, before: Standing | None, after: Standing | None
    ) -> bool:
        if not self.states <= chord.written or self.without & chord.written:
            return False
        if self.key and self.key not in (key.mode, "minor" if key.is_minor else "major"):
            return False
        degree = (chord.root.pitch_class - key.tonic.pitch_class) % 12
        if self.degrees and degree not in self.degrees:
            return False
        asked = (
            (self.before, (before,)),
            (self.after, (after,)),
            (self.beside, (before, after)),
        )
        return all(
            relation is None or any(relation.fits(one, chord.root, key) for one in ones)
            for relation, ones in asked
        )


@cache
def _rules() -> Mapping[str, tuple[_Rule, ...]]:
    """Read the rules, by kind of chord."""
    text = files("kit.solo").joinpath("chord_scales.toml").read_text(encoding="utf-8")
    rules = [_Rule.read(row) for row in tomllib.loads(text)["rules"]]
    return {
        kind: tuple(rule for rule in rules if rule.chord == kind) for kind in sorted(_KINDS)
    }


def scales_by_rule(
    chord: Standing, key: Key, before: ChordSymbol | None, after: ChordSymbol | None
) -> Iterator[tuple[str, ...]]:
    """Yield the names of scales that each rule offers, the rule that fits best first.

    Parameters
    ----------
    chord : Standing
        What is asked about.
    key : Key
        The key centre where it stands.
    before, after : ChordSymbol, optional
        Its neighbours in playing order.
    """
    one = Standing.of(before) if before is not None else None
    other = Standing.of(after) if after is not None else None
    for rule in _rules().get(chord.kind, ()):
        if rule.fits(chord, key, one, other):
            yield rule.scales
            for name in rule.otherwise:
                yield (name,)
