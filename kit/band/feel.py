"""What makes a feel: its swing, and what bass, chords and drums do in it.

A feel is one file in ``kit/band/feels``; adding a feel is adding a file. Patterns are
written for groups of 2, 3 and 4 beats; any other bar is a row of such groups (5 beats
are 3 and 2), and a feel may take what it lacks from another (``like``).

Conventions: positions and lengths in beats from the start of the group, velocities in
MIDI units. The beat is the meter's felt beat: a dotted quarter in 6/8.

Source: the patterns are common practice, written for this kit.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any, Literal

__all__ = [
    "BassNote",
    "CompPattern",
    "Feel",
    "Hit",
    "beat_groups",
    "feel_names",
    "load_feel",
    "with_four_to_the_bar",
]

Swing = Literal["by-tempo", "straight", "triplet"]
BassStyle = Literal["walking", "pattern"]
_GUITAR_PROGRAM = 26  # electric guitar (jazz), counted from 0
# Of a beat: the left hand lets go early.
_CHOP = Fraction(3, 5)


@dataclass(frozen=True, slots=True)
class Hit:
    """A stroke on one part of the kit, at a place in the group of beats."""

    voice: str
    at: Fraction
    velocity: int


@dataclass(frozen=True, slots=True)
class BassNote:
    """A note of a bass pattern: a chord degree (8 is the upper root) for some beats."""

    at: Fraction
    degree: int
    beats: Fraction


@dataclass(frozen=True, slots=True)
class CompPattern:
    """When the chords are struck: (place, length) in beats."""

    hits: tuple[tuple[Fraction, Fraction], ...]


@dataclass(frozen=True, slots=True)
class Feel:
    """One feel, read from its file. Patterns are by number of beats: 2, 3 and 4."""

    name: str
    title: str
    swing: Swing
    bass_head: BassStyle
    bass_solo: BassStyle
    chord_program: int
    bass_program: int
    kit_program: int
    tensions: bool
    bass: Mapping[int, tuple[tuple[BassNote, ...], ...]]
    comp: Mapping[int, tuple[CompPattern, ...]]
    drums: Mapping[int, tuple[tuple[Hit, ...], ...]]
    fills: Mapping[str, tuple[tuple[Hit, ...], ...]]


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
    return replace(feel, comp=comp, chord_program=_GUITAR_PROGRAM)


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
        base[key] = {**base[key], **value} if isinstance(value, dict) else value
    return base


def _feel(name: str, table: dict[str, Any]) -> Feel:
    return Feel(
        name=name,
        title=table["title"],
        swing=table["swing"],
        bass_head=table["bass_head"],
        bass_solo=table["bass_solo"],
        chord_program=table["chord_program"],
        bass_program=table["bass_program"],
        kit_program=table["kit_program"],
        tensions=table["tensions"],
        bass={
            int(beats): tuple(
                tuple(BassNote(_place(at), degree, _place(n)) for at, degree, n in pattern)
                for pattern in patterns
            )
            for beats, patterns in table["bass"].items()
        },
        comp={
            int(beats): tuple(
                CompPattern(tuple((_place(at), _place(n)) for at, n in pattern))
                for pattern in patterns
            )
            for beats, patterns in table["comp"].items()
        },
        drums={int(n): tuple(map(_hits, bars)) for n, bars in table["drums"].items()},
        fills={size: tuple(map(_hits, bars)) for size, bars in table["fills"].items()},
    )


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
