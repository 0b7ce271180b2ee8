"""What makes a feel: its swing, and what bass, chords and drums do in it.

A feel is one file in ``kit/band/feels``; adding a feel is adding a file. Patterns are
written for groups of 2, 3 and 4 felt beats; any other bar is a row of such groups (5 beats
are 3 and 2), and a feel may take what it lacks from another (``like``).

Conventions
-----------
* Positions and lengths in felt beats from the start of the group, velocities in MIDI units.
  The beat is the meter's: a dotted quarter in 6/8, a half in 2/2.
* A feel with a ``cycle`` plays figures of so many bars: its patterns are the bars of the
  figure in order, over and over if there are more. Without one each bar takes any pattern.
* A ``cut`` feel is written in bars of four. In bars of two beats (2/4, 2/2) its figure is
  as long as the bar, so everything is twice as close; patterns of three are cut off.
* Where a beat is divided in three, halves of it mean the last third: so a shuffle in 12/8
  swings in triplets.
* ``uneven`` are the patterns of groups of two and three eighths, as 7/8 has them: the first
  pattern is of the bar's first group, the others take turns.

Source: the patterns are common practice, written for this kit; what each feel must and must
not do is listed with its sources in ``tests/reference/feels.toml`` of the repository.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, Literal, TypeVar

from kit.band._cells import cell_hits

__all__ = [
    "BassNote",
    "CompPattern",
    "Feel",
    "Hit",
    "Patterns",
    "beat_groups",
    "feel_names",
    "load_feel",
    "with_four_to_the_bar",
]

_P = TypeVar("_P")
Swing = Literal["by-tempo", "straight", "triplet", "light"]
BassStyle = Literal["walking", "pattern"]
_GUITAR_PROGRAM = 26  # electric guitar (jazz), counted from 0
# Of a beat: the left hand lets go early.
_CHOP = Fraction(3, 5)
_PLAIN = "straight-eighths"
"""The feel whose uneven groups serve for feels without some of their own."""


@dataclass(frozen=True, slots=True)
class Hit:
    """A stroke on one part of the kit, at a place in the group of beats."""

    voice: str
    at: Fraction
    velocity: int


@dataclass(frozen=True, slots=True)
class BassNote:
    """A note of a bass pattern: a chord degree (8 is the upper root) for some beats.

    One that is `early` belongs to a chord that begins within a beat after it.
    """

    at: Fraction
    degree: int
    beats: Fraction
    early: bool = False


@dataclass(frozen=True, slots=True)
class CompPattern:
    """When the chords are struck: (place, length) in beats.

    A cell with a name (`kit.band._cells`) is free comping and is thinned under a melody
    that runs; a pattern without one belongs to the dance and is played as it stands.
    """

    hits: tuple[tuple[Fraction, Fraction], ...]
    name: str = ""


@dataclass(frozen=True, slots=True)
class Patterns:
    """What bass, chords and drums play in groups, by the size of the group."""

    bass: Mapping[int, tuple[tuple[BassNote, ...], ...]]
    comp: Mapping[int, tuple[CompPattern, ...]]
    drums: Mapping[int, tuple[tuple[Hit, ...], ...]]


@dataclass(frozen=True, slots=True)
class Feel:
    """One feel, read from its file.

    Parameters
    ----------
    name, title, words : str
        Of the file; as a heading; what it is, in a sentence for teachers.
    tempi : mapping of str to (float, float)
        The meters it is made for, and between how many felt beats a minute it is at home.
    swing : "by-tempo", "straight", "triplet" or "light"
        How uneven its short notes are.
    sixteenths : bool
        Whether these are sixteenths; else they are eighths.
    bass_head, bass_solo : "walking" or "pattern"
        What the bass does under the melody and under solos.
    chord_program, bass_program, kit_program : int
        General MIDI programs and drum kit, counted from 0.
    tensions : bool
        Whether chords get notes that are not in the symbol.
    anticipates : bool
        Whether a chord struck just before a change is the one that comes.
    crash : bool
        Whether a cymbal opens a section.
    breathes : bool
        Whether the band lets go where a section ends, as singers breathe.
    cycle : int
        Bars of its figure; 1 where every bar stands for itself.
    clave : "", "3-2" or "2-3"
        Which side of a two-bar figure comes first, where the notes do not tell.
    cut : bool
        Whether a bar of two beats takes the whole figure of four.
    keeps : frozenset of str
        Drum voices that go on through a fill.
    bass, comp, drums : mapping
        Patterns by number of felt beats: 2, 3 and 4.
    fills : mapping
        ``small`` and ``big``, over two beats.
    uneven : Patterns
        For groups of two and three eighths.
    """

    name: str
    title: str
    words: str
    tempi: Mapping[str, tuple[float, float]]
    swing: Swing
    sixteenths: bool
    bass_head: BassStyle
    bass_solo: BassStyle
    chord_program: int
    bass_program: int
    kit_program: int
    tensions: bool
    anticipates: bool
    crash: bool
    breathes: bool
    cycle: int
    clave: Literal["", "3-2", "2-3"]
    cut: bool
    keeps: frozenset[str]
    bass: Mapping[int, tuple[tuple[BassNote, ...], ...]]
    comp: Mapping[int, tuple[CompPattern, ...]]
    drums: Mapping[int, tuple[tuple[Hit, ...], ...]]
    fills: Mapping[str, tuple[tuple[Hit, ...], ...]]
    uneven: Patterns

    @property
    def is_swung(self) -> bool:
        """Whether its eighths are uneven."""
        return self.swing != "straight"

    @property
    def vamps(self) -> bool:
        """Whether its chords are a dance's: its own rhythm, and no note that is added."""
        cells = any(pattern.name for bars in self.comp.values() for pattern in bars)
        return not self.tensions and not cells


def feel_names() -> tuple[str, ...]:
    """List the feels there are, in alphabetical order."""
    folder = files("kit.band") / "feels"
    return tuple(
        sorted(
            entry.name.removesuffix(".toml")
            for entry in folder.iterdir()
            if entry.name.endswith(".toml")
        )
    )


@cache
def load_feel(name: str) -> Feel:
    """Read a feel by name.

    Raises
    ------
    ValueError
        If there is no such feel; the message lists those there are.
    """
    if name not in feel_names():
        raise ValueError(f"no feel {name!r}; there are {', '.join(feel_names())}")
    return _feel(name, _table(name))


def with_four_to_the_bar(feel: Feel) -> Feel:
    """Give the feel a guitar that strikes a short chord on every beat, and nothing else.

    Source: common practice of the swing era's rhythm guitar; General MIDI program 27.
    """
    comp = {
        beats: (CompPattern(tuple((Fraction(at), _CHOP) for at in range(beats))),)
        for beats in (2, 3, 4)
    }
    # In uneven groups a beat is as long as its group.
    uneven = {size: (CompPattern(((Fraction(0), size * _CHOP),)),) for size in (2, 3)}
    return replace(
        feel,
        comp=comp,
        chord_program=_GUITAR_PROGRAM,
        uneven=replace(feel.uneven, comp=uneven),
    )


def beat_groups(beats: int) -> tuple[int, ...]:
    """Split a bar into groups of two to four beats (a bar of one beat is one group).

    Examples
    --------
    >>> [beat_groups(n) for n in (3, 4, 5, 6, 7, 12)]
    [(3,), (4,), (3, 2), (3, 3), (4, 3), (4, 4, 4)]
    """
    whole = {5: (3, 2), 6: (3, 3), 7: (4, 3)}
    if beats <= 4:
        return (beats,)
    return whole[beats] if beats in whole else (4, *beat_groups(beats - 4))


def _table(name: str) -> dict[str, Any]:
    text = (files("kit.band") / "feels" / f"{name}.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    if "like" not in table:
        return table
    base = _table(table["like"])
    for key, value in table.items():
        added = isinstance(value, dict) and key != "tempi"
        base[key] = {**base.get(key, {}), **value} if added else value
    return base


def _feel(name: str, table: dict[str, Any]) -> Feel:
    uneven = table.get("uneven") or _table(_PLAIN)["uneven"]
    cut = table.get("cut", False)
    patterns = _patterns(table)
    return Feel(
        name=name,
        title=table["title"],
        words=table["words"],
        tempi={meter: (low, high) for meter, (low, high) in table["tempi"].items()},
        swing=table["swing"],
        sixteenths=table.get("sixteenths", False),
        bass_head=table["bass_head"],
        bass_solo=table["bass_solo"],
        chord_program=table["chord_program"],
        bass_program=table["bass_program"],
        kit_program=table["kit_program"],
        tensions=table["tensions"],
        anticipates=table["anticipates"],
        crash=table.get("crash", True),
        breathes=table.get("breathes", False),
        cycle=table.get("cycle", 1),
        clave=table.get("clave", ""),
        cut=cut,
        keeps=frozenset(table.get("keeps", ())),
        bass=_filled(patterns.bass, cut, _bass_fitted),
        comp=_filled(patterns.comp, cut, _comp_fitted),
        drums=_filled(patterns.drums, cut, _hits_fitted),
        fills={size: tuple(map(_hits, bars)) for size, bars in table["fills"].items()},
        uneven=_patterns(uneven),
    )


def _patterns(table: Mapping[str, Any]) -> Patterns:
    return Patterns(
        bass={
            int(beats): tuple(tuple(_bass_note(*note) for note in bar) for bar in bars)
            for beats, bars in table["bass"].items()
        },
        comp={
            int(beats): tuple(_comp_pattern(bar, int(beats)) for bar in bars)
            for beats, bars in table["comp"].items()
        },
        drums={int(n): tuple(map(_hits, bars)) for n, bars in table["drums"].items()},
    )


def _comp_pattern(pattern: str | list[list[float]], beats: int) -> CompPattern:
    if isinstance(pattern, str):
        return CompPattern(cell_hits(pattern, beats), pattern)
    return CompPattern(tuple((_place(at), _place(n)) for at, n in pattern))


def _bass_note(at: float, degree: int, beats: float, *early: str) -> BassNote:
    if early not in ((), ("early",)):
        raise ValueError(f"a bass note is early or nothing, not {early}")
    return BassNote(_place(at), degree, _place(beats), early=bool(early))


def _filled(
    patterns: Mapping[int, tuple[_P, ...]],
    cut: bool,
    fitted: Callable[[_P, Fraction, int], _P],
) -> dict[int, tuple[_P, ...]]:
    """Derive from the patterns of four what a cut feel has in shorter bars."""
    if not cut:
        return dict(patterns)
    four = patterns[4]
    derived = {
        2: tuple(fitted(pattern, Fraction(1, 2), 2) for pattern in four),
        3: tuple(fitted(pattern, Fraction(1), 3) for pattern in four),
    }
    return {**derived, **patterns}


def _bass_fitted(
    pattern: tuple[BassNote, ...], by: Fraction, beats: int
) -> tuple[BassNote, ...]:
    notes = (replace(n, at=n.at * by, beats=n.beats * by) for n in pattern)
    return tuple(note for note in notes if note.at < beats)


def _comp_fitted(pattern: CompPattern, by: Fraction, beats: int) -> CompPattern:
    hits = ((at * by, length * by) for at, length in pattern.hits)
    return replace(pattern, hits=tuple(hit for hit in hits if hit[0] < beats))


def _hits_fitted(pattern: tuple[Hit, ...], by: Fraction, beats: int) -> tuple[Hit, ...]:
    hits = (replace(hit, at=hit.at * by) for hit in pattern)
    return tuple(hit for hit in hits if hit.at < beats)


def _hits(voices: dict[str, list[list[float]]]) -> tuple[Hit, ...]:
    hits = [
        Hit(voice, _place(at), int(velocity))
        for voice, strokes in voices.items()
        for at, velocity in strokes
    ]
    return tuple(sorted(hits, key=lambda hit: (hit.at, hit.voice)))


def _place(number: float) -> Fraction:
    """Read 0.5 or 0.667 as the simple fraction it stands for."""
    return Fraction(number).limit_denominator(12)
