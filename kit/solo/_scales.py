"""Which scales are there, and how well does one serve over a chord?

Conventions
-----------
* A scale's fit over a chord is the share of the chord's notes it holds (third and seventh
  count double) less a deduction for each note that rubs.
* A note rubs when it is in the scale, not in the chord, and a half step above the chord's
  root, third or fifth. Over a dominant chord only a half step above the third counts: the
  others are colours.

Source: common practice of jazz teaching ("avoid notes", a scale for each chord), as in the
usual textbooks; the weights are our own. Scales in scales.toml.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from kit.form.harmony import is_dominant
from kit.form.wording import ordinal
from kit.levels.steps import plain_name
from kit.tune.chord import ChordSymbol, degree_interval
from kit.tune.pitch import Key, NoteName

__all__ = [
    "Scale",
    "chord_scale",
    "fit",
    "rubbing",
    "scale_names",
    "scale_on",
    "scales_for",
]

_RUB = 0.25


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale on a tonic, its notes spelled from the tonic upward; `effort` to learn it."""

    name: str
    tonic: NoteName
    notes: tuple[NoteName, ...]
    effort: float = 0.0

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Its notes as pitch classes."""
        return frozenset(note.pitch_class for note in self.notes)

    def __str__(self) -> str:
        """Print as one says it: ``C minor pentatonic``."""
        return f"{self.tonic} {self.name}"


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table."""

    name: str
    degrees: tuple[tuple[int, int], ...]
    mode: str
    effort: float

    def on(self, tonic: NoteName) -> Scale:
        notes = tuple(tonic + degree_interval(*degree) for degree in self.degrees)
        if (5, 0) in self.degrees and (5, -1) in self.degrees:
            # The blue note in passing is written as it reads best: B, not C♭, under C.
            notes = tuple(plain_name(note) for note in notes)
        return Scale(self.name, tonic, notes, self.effort)


@cache
def _table() -> tuple[_Row, ...]:
    text = files("kit.solo").joinpath("scales.toml").read_text(encoding="utf-8")
    return tuple(
        _Row(
            row["name"],
            tuple((degree, alter) for degree, alter in row["degrees"]),
            row["mode"],
            row["effort"],
        )
        for row in tomllib.loads(text)["scales"]
    )


def scale_names() -> tuple[str, ...]:
    """Give the names of all scales in the table, simplest first."""
    return tuple(row.name for row in _table())


def scale_on(name: str, tonic: NoteName) -> Scale:
    """Build a scale of the table on a tonic.

    Raises
    ------
    ValueError
        If the table has no such scale.

    Examples
    --------
    >>> " ".join(map(str, scale_on("blues", NoteName("C")).notes))
    'C E♭ F G♭ G B♭'
    """
    row = next((row for row in _table() if row.name == name), None)
    if row is None:
        raise ValueError(f"{name!r} is not one of {', '.join(scale_names())}")
    return row.on(tonic)


def scales_for(key: Key, *, bluesy: bool = False) -> tuple[Scale, ...]:
    """Give the scales that may serve a whole section in a key, simplest first.

    With `bluesy` (a dominant chord on the tonic) a major section may take minor scales too.
    """
    modes = {"minor" if key.is_minor else "major"} | ({"minor"} if bluesy else set())
    return tuple(row.on(key.tonic) for row in _table() if row.mode in modes)


def fit(scale: Scale, symbol: ChordSymbol) -> float:
    """Say how well a scale serves over a chord: 1 holds every note and nothing rubs."""
    have = total = 0.0
    for (degree, _), name in zip(symbol.notes, symbol.note_names, strict=True):
        weight = 2.0 if degree in (3, 7) else 1.0
        total += weight
        have += weight * (name.pitch_class in scale.pitch_classes)
    rubs = len(rubbing(scale, symbol))
    return (have / total if total else 0.0) - _RUB * rubs / len(scale.notes)


def rubbing(scale: Scale, symbol: ChordSymbol) -> tuple[tuple[NoteName, str], ...]:
    """Give the notes to pass through rather than rest on, each with its reason."""
    tones = {name.pitch_class for name in symbol.note_names}
    tender = (3,) if is_dominant(symbol) else (1, 3, 5)
    core = {
        name.pitch_class: name
        for name in (symbol.degree(degree) for degree in tender)
        if name is not None
    }
    found = []
    for note in scale.notes:
        below = core.get((note.pitch_class - 1) % 12)
        if note.pitch_class in tones or below is None:
            continue
        found.append((note, f"a half step above {below}, the {_place(symbol, below)}"))
    return tuple(found)


def _place(symbol: ChordSymbol, name: NoteName) -> str:
    degree = symbol.notes[symbol.note_names.index(name)][0]
    return "root" if degree == 1 else ordinal(degree)


# A solo asks for the scales of a few chords hundreds of times.
@lru_cache(maxsize=4096)
def chord_scale(symbol: ChordSymbol, key: Key) -> Scale | None:
    """Choose the scale that serves one chord in a key best, None for no chord.

    It must hold every note of the chord; of those that do, the one with the most notes of
    the key wins, then the one with least to avoid, then the simplest. On the dominant of
    a minor key the leading note belongs to the key.
    """
    if symbol.root is None or not symbol.notes:
        return None
    home = {name.pitch_class for name in key.scale}
    tonic = key.tonic.pitch_class
    fifth = (symbol.root.pitch_class - tonic) % 12 == 7
    if key.is_minor and fifth and is_dominant(symbol):
        home = (home - {(tonic + 10) % 12}) | {(tonic + 11) % 12}
    tones = {name.pitch_class for name in symbol.note_names}
    # Five notes, or the blues scale, serve a whole section; a chord asks for a full scale.
    candidates = [
        row.on(symbol.root)
        for row in _table()
        if len(row.degrees) > 5 and row.name != "blues"
    ]
    serving = [scale for scale in candidates if tones <= scale.pitch_classes]
    return max(serving, key=lambda scale: _chord_score(scale, symbol, home), default=None)


def _chord_score(scale: Scale, symbol: ChordSymbol, home: set[int]) -> float:
    inside = len(scale.pitch_classes & home) / len(scale.pitch_classes)
    return inside - scale.effort / 2 - 0.03 * len(rubbing(scale, symbol))
