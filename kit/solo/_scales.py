"""Which scales are there, which goes with a chord, and how well does one serve over it?

Conventions
-----------
* A scale's fit over a chord is the share of the chord's notes it holds (third and seventh
  count double) less a deduction for each note that rubs.
* A note rubs when it is in the scale, not in the chord, and a half step above the chord's
  root, third or fifth. Over a dominant chord only a half step above the third counts: the
  others are colours.
* A scale of seven notes has each letter once, and stands on the enharmonic tonic where that
  spares it double signs: F♯ minor pentatonic, not G♭. Beside a chord it keeps the chord's
  root, and only what would have a double sign gets the name that is played. So do scales
  that double a letter anyway (blues, altered, diminished, whole tone).

Source: common practice of jazz teaching ("avoid notes", a scale for each chord), as in the
usual textbooks; the weights are our own. Scales in scales.toml, the rules for chords in
chord_scales.toml.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files

from kit.form.harmony import is_dominant
from kit.form.wording import ordinal
from kit.levels.steps import plain_name
from kit.solo._chord_rules import OWN, Standing, scales_by_rule
from kit.tune.chord import ChordSymbol, degree_interval
from kit.tune.pitch import Key, NoteName

__all__ = [
    "Scale",
    "chord_scale",
    "chord_scales",
    "fit",
    "rubbing",
    "scale_names",
    "scale_on",
    "scales_for",
]

_RUB = 0.25


@dataclass(frozen=True, slots=True)
class Scale:
    """A scale on a tonic, its notes spelled from the tonic upward; `effort` to learn it.

    Without a name it is no scale of the table, only the notes of a chord.
    """

    name: str
    tonic: NoteName
    notes: tuple[NoteName, ...]
    effort: float = 0.0

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Its notes as pitch classes."""
        return frozenset(note.pitch_class for note in self.notes)

    def spelled(self, name: NoteName, key: Key | None = None) -> NoteName:
        """Name a note as beside this scale: as the scale does, or plainly within a key."""
        own = (note for note in self.notes if note.pitch_class == name.pitch_class)
        return next(own, plain_name(name, key))

    @property
    def usual(self) -> bool:
        """Whether it is a scale of the table."""
        return bool(self.name)

    def __str__(self) -> str:
        """Print as one says it: ``C minor pentatonic``."""
        if not self.usual:
            notes = " ".join(str(note) for note in self.notes)
            return f"no usual scale; its own notes are {notes}"
        return f"{self.tonic} {self.name}"


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the table."""

    name: str
    degrees: tuple[tuple[int, int], ...]
    mode: str
    effort: float

    @property
    def by_letters(self) -> bool:
        """Whether each note has a letter of its own, as in a key or in a pentatonic."""
        # The whole tone scale has, but its sixth letter names the minor seventh.
        letters = {number for number, _ in self.degrees}
        return len(letters) == len(self.degrees) != 6

    @property
    def semitones(self) -> frozenset[int]:
        """Its notes over the tonic, 0 to 11."""
        return frozenset(degree_interval(*degree).semitones for degree in self.degrees)

    def on(self, tonic: NoteName) -> Scale:
        notes = self._from(tonic)
        if not self.by_letters:
            notes = tuple(plain_name(note) for note in notes)
            return Scale(self.name, notes[0], notes, self.effort)
        if _has_double_signs(notes):
            other = NoteName.from_fifths(tonic.fifths + (12 if tonic.fifths < 0 else -12))
            turned = self._from(other)
            if not _has_double_signs(turned):
                return Scale(self.name, other, turned, self.effort)
        return Scale(self.name, tonic, notes, self.effort)

    def over(self, root: NoteName) -> Scale:
        """Build it beside a chord, whose root it keeps: no D♯ over E♭m7♭5."""
        notes = self._from(root)
        if not self.by_letters or not _has_double_signs(notes) or abs(root.alter) > 1:
            return self.on(root)
        single = tuple(n if abs(n.alter) < 2 else plain_name(n) for n in notes)
        return Scale(self.name, root, single, self.effort)

    def _from(self, tonic: NoteName) -> tuple[NoteName, ...]:
        return tuple(tonic + degree_interval(*degree) for degree in self.degrees)


def _has_double_signs(notes: Iterable[NoteName]) -> bool:
    return any(abs(note.alter) > 1 for note in notes)


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


def scale_on(name: str, tonic: NoteName, *, beside_chord: bool = False) -> Scale:
    """Build a scale of the table on a tonic; `beside_chord` it keeps the very name.

    Raises
    ------
    ValueError
        If the table has no such scale.

    Examples
    --------
    >>> " ".join(map(str, scale_on("blues", NoteName("C")).notes))
    'C E♭ F G♭ G B♭'
    """
    row = _row(name)
    return row.over(tonic) if beside_chord else row.on(tonic)


def _row(name: str) -> _Row:
    row = next((row for row in _table() if row.name == name), None)
    if row is None:
        raise ValueError(f"{name!r} is not one of {', '.join(scale_names())}")
    return row


def scales_for(key: Key, *, bluesy: bool = False) -> tuple[Scale, ...]:
    """Give the scales that may serve a whole section in a key, simplest first.

    A section in phrygian, lydian or locrian has only its own.

    With `bluesy` (a dominant chord on the tonic) a major section may take minor scales too.
    """
    if key.mode != "major" and any(row.mode == row.name == key.mode for row in _table()):
        # Nothing simpler sounds like phrygian or lydian: it lacks what makes the mode.
        return (scale_on(key.mode, key.tonic),)
    modes = {"minor" if key.is_minor else "major"} | ({"minor"} if bluesy else set())
    return tuple(row.on(key.tonic) for row in _table() if row.mode in modes)


def fit(scale: Scale, symbol: ChordSymbol) -> float:
    """Say how well a scale serves over a chord: 1 holds every note and nothing rubs."""
    held = scale.pitch_classes
    if scale.name == "blues":
        # The blue note only passes: nobody rests on it as a note of a chord.
        held -= {(scale.tonic.pitch_class + 6) % 12}
    have = total = 0.0
    for (degree, _), name in zip(symbol.notes, symbol.note_names, strict=True):
        weight = 2.0 if degree in (3, 7) else 1.0
        total += weight
        have += weight * (name.pitch_class in held)
    rubs = len(rubbing(scale, symbol))
    return (have / total if total else 0.0) - _RUB * rubs / len(scale.notes)


def rubbing(
    scale: Scale, symbol: ChordSymbol, key: Key | None = None
) -> tuple[tuple[NoteName, str], ...]:
    """Give the notes to pass through rather than rest on, each with its reason.

    The reason names notes as `Scale.spelled` does.
    """
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
        place = _place(symbol, below)
        found.append((note, f"a half step above {scale.spelled(below, key)}, the {place}"))
    return tuple(found)


def _place(symbol: ChordSymbol, name: NoteName) -> str:
    degree = symbol.notes[symbol.note_names.index(name)][0]
    return "root" if degree == 1 else ordinal(degree)


# A solo asks for the scales of a few chords hundreds of times.
@lru_cache(maxsize=4096)
def chord_scales(
    symbol: ChordSymbol,
    key: Key,
    *,
    before: ChordSymbol | None = None,
    after: ChordSymbol | None = None,
) -> tuple[Scale, ...]:
    """Give the scale that the trade teaches for a chord where it stands, and another.

    Parameters
    ----------
    symbol : ChordSymbol
        The chord.
    key : Key
        The key centre where it stands.
    before, after : ChordSymbol, optional
        Its neighbours in playing order: where a dominant comes from and goes to decides.

    Returns
    -------
    tuple of Scale
        The one to offer, which holds every note that the chord states, then the other good
        answer where there is one. A chord that no rule knows gets its own notes, a scale
        that is not `Scale.usual`; no chord, or one whose notes are not known, gets none.

    Examples
    --------
    >>> from kit.tune.chord_text import parse_chord
    >>> found = chord_scales(parse_chord("G7"), Key(0), after=parse_chord("Cm7"))
    >>> [str(scale) for scale in found]
    ['G mixolydian ♭9♭13', 'G altered']
    """
    chord = Standing.of(symbol)
    if chord is None:
        return ()
    # A bass note held under the chord may lie outside of every scale that the chord has.
    for bass in dict.fromkeys((frozenset[int](), chord.held_below)):
        for names in scales_by_rule(chord, key, before, after):
            rows = [
                _own_row(key, chord.root) if name == OWN else _row(name) for name in names
            ]
            known = [row for row in rows if row is not None]
            first = next((r for r in known if chord.stated - bass <= r.semitones), None)
            if first is not None:
                others = known[known.index(first) + 1 :]
                held = [r for r in others if chord.essential - bass <= r.semitones]
                found = dict.fromkeys((first, *held[:1]))
                return tuple(row.over(chord.root) for row in found)
    return (_stated_notes(symbol, chord.root),)


def chord_scale(
    symbol: ChordSymbol,
    key: Key,
    *,
    before: ChordSymbol | None = None,
    after: ChordSymbol | None = None,
) -> Scale | None:
    """Give the first of `chord_scales`, None for no chord."""
    return next(iter(chord_scales(symbol, key, before=before, after=after)), None)


def _own_row(key: Key, root: NoteName) -> _Row | None:
    """Give the mode that the notes of a key make from one of them; None from any other."""
    tones = frozenset((name.pitch_class - root.pitch_class) % 12 for name in key.scale)
    if 0 not in tones:
        return None
    return next(row for row in _table() if row.semitones == tones)


def _stated_notes(symbol: ChordSymbol, root: NoteName) -> Scale:
    names = {name.pitch_class: plain_name(name) for name in symbol.note_names}
    if symbol.bass is not None:
        names.setdefault(symbol.bass.pitch_class, symbol.bass)
    upward = sorted(names, key=lambda pitch: (pitch - root.pitch_class) % 12)
    return Scale("", root, tuple(names[pitch] for pitch in upward))
