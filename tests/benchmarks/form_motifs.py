"""Make tunes of a known form from motifs: the half of the form sets that is tuned on.

A section is built as tunes are taught to be written: a motif of one or two bars, its rhythm
kept while its notes move, a cadence at the end; half a section may open like the other
half. Sections come back varied: with another ending, a bar changed, notes filled in by
passing notes, other chords, an octave higher, or the last of them moved up by a step.
Around them may stand an intro and a coda. Nothing here knows how the finder compares.

The judging half is made by other rules: form_patchwork.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from kit.form.sections import Form
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune, transposed
from kit.tune.pitch import Interval, Key, Pitch

__all__ = ["KINDS", "KnownForm", "is_exact", "motif_tune"]

KINDS = (
    "regular", "odd", "two lengths", "four-bar", "framed", "lifted", "sixteen",
)  # fmt: skip
"""``regular``: sections of eight bars; ``odd``: all of 3, 5, 6, 7 or 9; ``two lengths``:
another length for each label; ``four-bar``: AABB and others of four bars; ``framed``: with
intro, coda or both; ``lifted``: the last A or the last round up by a step or a half step;
``sixteen``: sections of 12 or 16 bars."""

_METERS = ("4/4", "4/4", "3/4", "2/4", "6/8")
_KEYS = ("C major", "G major", "F major", "Bb major", "D minor", "E minor", "A major")
_FORMS = (
    "AABA",
    "AABB",
    "ABAC",
    "AAB",
    "ABA",
    "AABC",
    "ABAB",
    "ABCA",
    "AA",
    "ABB",
    "AABBCC",
)
_FORMS_OF = {
    "four-bar": ("AABB", "AABB", "AABA", "ABAC", "AAB"),
    "lifted": ("AABA", "AABA", "AAA", "ABAB", "AABAA"),
    "sixteen": ("AABB", "ABA", "AAB", "AABA"),
}
_RHYTHMS = {
    "4/4": ((2, 2, 2, 2), (4, 2, 2), (3, 1, 2, 2), (2, 1, 1, 4), (2, 2, 4), (6, 2),
            (1, 1, 2, 4),
            (1, 1, 1, 1, 2, 2), (2, 4, 2), (4, 4)),
    "3/4": ((2, 2, 2), (4, 2), (3, 1, 2), (2, 1, 1, 2), (1, 1, 2, 2), (2, 4)),
    "2/4": ((2, 2), (1, 1, 2), (2, 1, 1), (1, 1, 1, 1), (3, 1)),
    "6/8": ((2, 1, 2, 1), (3, 2, 1), (3, 3), (1, 1, 1, 2, 1), (1, 1, 1, 1, 1, 1)),
}  # fmt: skip
"""Eighth notes in a bar."""
_CADENCES = {
    "4/4": ((8,), (6, -2), (4, -4), (2, 6)), "3/4": ((6,), (4, -2)), "2/4": ((4,), (3, -1)),
    "6/8": ((6,), (3, -3), (3, 3), (5, -1)),
}  # fmt: skip
_NEXT_CHORD = {
    0: (3, 4, 5, 1, 0),
    1: (4, 4, 6),
    2: (5, 3),
    3: (4, 0, 1),
    4: (0, 0, 5),
    5: (1, 3),
}


@dataclass(frozen=True)
class KnownForm:
    """A tune without marks, its labels, and the full bars that each section has."""

    tune: Tune
    labels: tuple[str, ...]
    lengths: tuple[int, ...]


_Bars = tuple[Bar, ...]


class _Writer:
    """Writes bars in one key and meter; all its choices follow from the seed."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.meter_name = rng.choice(_METERS)
        self.meter = Meter.parse(self.meter_name)
        self.key = Key.parse(rng.choice(_KEYS))
        self.chords = rng.random() < 0.6
        self.rhythms = rng.sample(_RHYTHMS[self.meter_name], 5)

    def section(self, length: int, *, ends_at_home: bool) -> _Bars:
        rng = self.rng
        rhythms = rng.sample(self.rhythms, rng.choice((2, 3)))
        span = rng.choice((1, 2, 2))
        motif = [self._contour(rhythms[k % len(rhythms)]) for k in range(span)]
        place, chord = rng.randrange(2, 9), 0
        bars: list[Bar] = []
        opening = rng.random() < 0.25 and length in (6, 8)
        for k in range(length - 1):
            if opening and length // 2 <= k < length - 2:
                bars.append(bars[k - length // 2])
                continue
            if rng.random() < 0.55:
                rhythm, moves = motif[k % span]
            else:
                rhythm, moves = self._contour(rng.choice(rhythms))
            place = min(10, max(0, place + rng.choice((-2, -1, 1, 2, 3))))
            bars.append(self._bar(rhythm, [place + move for move in moves], chord))
            chord = rng.choice(_NEXT_CHORD.get(chord, (0, 4)))
        cadence = rng.choice(_CADENCES[self.meter_name])
        home = 7 if rng.random() < 0.6 else 0
        end = home if ends_at_home else home + rng.choice((1, 2, 4))
        steps = [end] if len(cadence) == 1 or cadence[1] < 0 else [end + 1, end]
        bars.append(self._bar(cadence, steps, 0 if ends_at_home else 4))
        return tuple(bars)

    def _contour(self, rhythm: tuple[int, ...]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        move, moves = 0, []
        for _ in rhythm:
            moves.append(move)
            move += self.rng.choice((-2, -1, -1, 1, 1, 2))
        return rhythm, tuple(moves)

    def _bar(self, rhythm: tuple[int, ...], steps: list[int], chord: int) -> Bar:
        notes, onset, left = [], Fraction(0), list(steps)
        for eighths in rhythm:
            length = Fraction(abs(eighths), 2)
            pitch = None if eighths < 0 else self._pitch(left.pop(0))
            notes.append(Note(onset, length, pitch))
            onset += length
        events: tuple[ChordEvent, ...] = ()
        if self.chords:
            minor = self.key.mode == "minor"
            kinds = (
                "minor",
                "half-diminished",
                "major",
                "minor",
                "major",
                "major",
                "major",
            )
            plain = ("major", "minor", "minor", "major", "dominant", "minor", "diminished")
            symbol = ChordSymbol(self.key.scale[chord], (kinds if minor else plain)[chord])
            events = (ChordEvent(Fraction(0), symbol),)
        return Bar(1, tuple(notes), events, meter=self.meter, key=self.key)

    def _pitch(self, step: int) -> Pitch:
        octave, degree = divmod(step, 7)
        name = self.key.scale[degree]
        lift = "CDEFGAB".index(name.step) < "CDEFGAB".index(self.key.scale[0].step)
        return Pitch(name.step, name.alter, 4 + octave + lift)

    def varied(self, bars: _Bars, *, ends_at_home: bool) -> _Bars:
        """Let a section come back as sections do."""
        rng, again = self.rng, list(bars)
        if rng.random() < 0.5:
            count = 1 if len(bars) < 6 else rng.choice((1, 1, 2))
            again[-count:] = self.section(count + 1, ends_at_home=ends_at_home)[-count:]
        if rng.random() < 0.35:
            place = rng.randrange(1, max(2, len(bars) - 1))
            again[place] = self._filled_in(again[place])
        if rng.random() < 0.2 and len(bars) >= 5:
            place = rng.randrange(1, len(bars) - 2)
            again[place] = self.section(2, ends_at_home=True)[0]
        if self.chords and rng.random() < 0.3:
            place = rng.randrange(len(bars))
            other = ChordSymbol(self.key.scale[rng.choice((1, 3, 5))], "minor")
            again[place] = replace(again[place], chords=(ChordEvent(Fraction(0), other),))
        return tuple(again)

    def _filled_in(self, bar: Bar) -> Bar:
        """Divide a note of two eighths or more by a neighbour."""
        notes: list[Note] = []
        for note in bar.notes:
            if note.pitch is None or note.duration < 1 or self.rng.random() < 0.4:
                notes.append(note)
                continue
            half = note.duration / 2
            name = self.key.scale[
                (self.key.scale.index(note.pitch.name) + 1) % 7
                if note.pitch.name in self.key.scale
                else 0
            ]
            octave = note.pitch.octave + (note.pitch.step == "B")
            notes.append(replace(note, duration=half))
            notes.append(
                Note(note.onset + half, half, Pitch(name.step, name.alter, octave))
            )
        return replace(bar, notes=tuple(notes))


def motif_tune(kind: str, seed: int) -> KnownForm:
    """Make a tune of a kind, the same for the same seed."""
    rng = Random(f"{kind} {seed}")
    writer = _Writer(rng)
    labels = rng.choice(_FORMS)
    length_of = dict(zip("ABC", _lengths(kind, rng), strict=True))
    if labels == "ABAB" and length_of["A"] < 5:
        # Whether A and B of three bars are two sections or one of six is a matter of taste.
        labels = "AABA"
    if kind in _FORMS_OF:
        labels = rng.choice(_FORMS_OF[kind])
    first: dict[str, _Bars] = {}
    played: list[tuple[str, _Bars]] = []
    for place, label in enumerate(labels):
        ends_at_home = place == len(labels) - 1 or rng.random() < 0.6
        if label not in first:
            bars = first[label] = writer.section(
                length_of[label], ends_at_home=ends_at_home
            )
        elif rng.random() < 0.4:
            bars = first[label]
        else:
            bars = writer.varied(first[label], ends_at_home=ends_at_home)
        played.append((label, bars))
    if kind == "lifted":
        step = Interval.parse(rng.choice(("m2", "m2", "M2")))
        count = 2 if labels == "ABAB" else 1
        for place in range(len(played) - count, len(played)):
            label, bars = played[place]
            played[place] = label, transposed(Tune("", bars), step).bars
    if kind == "framed":
        which = rng.choice(("intro", "coda", "both"))
        if which != "coda":
            played.insert(
                0, ("Intro", writer.section(rng.choice((2, 4)), ends_at_home=False))
            )
        if which != "intro":
            played.append(("Coda", _coda(writer, played[-1][1])))
    return _assembled(played)


def _coda(writer: _Writer, last: _Bars) -> _Bars:
    """New bars at the end, or the last two said again."""
    if writer.rng.random() < 0.4:
        return last[-2:]
    return writer.section(writer.rng.choice((2, 4)), ends_at_home=True)


def _lengths(kind: str, rng: Random) -> tuple[int, int, int]:
    if kind == "odd":
        return (rng.choice((3, 5, 6, 7, 9)),) * 3
    if kind == "two lengths":
        one, two, three = rng.sample((4, 5, 6, 7, 8, 9, 10, 12), 3)
        return one, two, three
    if kind == "four-bar":
        return (4, 4, 4)
    if kind == "sixteen":
        return (rng.choice((12, 16, 16)),) * 3
    return (8, 8, 8)


def _assembled(played: list[tuple[str, _Bars]]) -> KnownForm:
    bars = [bar for _, section in played for bar in section]
    numbered = tuple(replace(bar, number=k) for k, bar in enumerate(bars, start=1))
    labels, lengths = zip(
        *((label, len(section)) for label, section in played), strict=True
    )
    return KnownForm(Tune("", numbered), labels, lengths)


def is_exact(known: KnownForm, form: Form) -> bool:
    """Whether a form has every border in its bar, and the letters say the same."""
    full = [k for k, bar in enumerate(known.tune.bars) if not bar.pickup]
    starts = [full.index(section.first) for section in form.sections]
    labels = [section.label for section in form.sections]
    edges = [sum(known.lengths[:k]) for k in range(len(known.lengths))]
    return starts == edges and _in_order(labels) == _in_order(known.labels)


def _in_order(labels: Iterable[str]) -> list[str]:
    """Name letters by order of appearance; intro and coda keep their names."""
    names: dict[str, str] = {}
    framed = ("Intro", "Coda")
    return [
        label if label in framed else names.setdefault(label, chr(65 + len(names)))
        for label in labels
    ]
