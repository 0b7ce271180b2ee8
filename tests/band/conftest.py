"""Tiny tunes and routes made by hand."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, Tag, plan_route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Interval, Key, NoteName, Pitch

# Eight bars of our own in C minor: i, ii-V-i, iv, ii-V, turnaround.
CHANGES = (
    (("C", "minor-sixth"),),
    (("D", "half-diminished"), ("G", "dominant")),
    (("C", "minor-seventh"),),
    (("C", "dominant"),),
    (("F", "minor-seventh"), ("Bb", "dominant")),
    (("Eb", "major-seventh"), ("Ab", "major-seventh")),
    (("C", "minor-sixth"),),
    (("D", "half-diminished"), ("G", "dominant")),
)
MELODY = ["G4", "Bb4", "C5", "Eb5", "D5", "C5", "Bb4", "F4"]
MELODY += ["Eb4", "G4", "Ab4", "C5", "Bb4", "G4", "F4", "D4"]


def chord(root: str, kind: str) -> ChordSymbol:
    return ChordSymbol(NoteName.parse(root), kind)


def minor_tune(meter: str = "4/4", choruses: int = 1, *, pickup: bool = False) -> Tune:
    """Eight bars; each has a long note, an off-beat eighth and a rest to breathe."""
    parsed = Meter.parse(meter)
    full = parsed.bar_length
    key = Key.parse("C minor")
    bars = []
    if pickup:
        first = Note(Fraction(0), Fraction(1, 2), Pitch.parse("D4"))
        bars.append(Bar(0, (first,), meter=parsed, key=key, pickup=True))
    for number, row in enumerate(CHANGES * choruses, start=1):
        half = full / 2
        chords = tuple(
            ChordEvent(half * place, chord(*symbol)) for place, symbol in enumerate(row)
        )
        one, two = MELODY[(2 * number - 2) % 16], MELODY[(2 * number - 1) % 16]
        eighth = Fraction(1, 2)
        notes = (
            Note(Fraction(0), full - 1, Pitch.parse(one)),
            Note(full - 1, eighth, None),
            Note(full - eighth, eighth, Pitch.parse(two), tied=number == 3),
        )
        bars.append(Bar(number, notes, chords, meter=parsed, key=key))
    return Tune("Eight bars", tuple(bars))


def whole_form(tune: Tune, label: str = "A", size: int = 4) -> Form:
    first = 1 if tune.has_pickup else 0
    sections = []
    for start in range(first, len(tune.bars), size):
        pickup = 0 if first and start == first else None
        letter = chr(ord(label) + (start - first) // size % 2)
        sections.append(Section(letter, start, start + size - 1, pickup))
    return Form(tuple(sections))


def route_over(
    tune: Tune, *, solo: bool = True, tag: bool = False, **options: object
) -> Route:
    passages = [Passage("head")]
    if solo:
        passages.append(Passage("solo"))
    passages.append(Passage("head", tag=Tag(2, 3) if tag else None))
    return plan_route(
        passages,
        form=whole_form(tune),
        head=tune,
        order=range(len(tune.bars)),
        **options,
    )


def in_key(tune: Tune, semitone: int) -> Tune:
    from kit.tune.model import transposed

    names = ("P1", "m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7")
    return transposed(tune, Interval.parse(names[semitone]))


@pytest.fixture
def tune() -> Tune:
    return minor_tune()


@pytest.fixture
def make_tune() -> Callable[..., Tune]:
    return minor_tune


@pytest.fixture
def make_route() -> Callable[..., Route]:
    return route_over


@pytest.fixture
def transpose_tune() -> Callable[[Tune, int], Tune]:
    return in_key
