"""Tiny tunes for the form tests, written as text: one bar between strokes.

A bar is ``chords: notes``. A note is a pitch with its length in quarter notes (``C5/2``),
``r`` is a rest; several chords share the bar evenly.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest

from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch

_KINDS = {
    "": "major", "m": "minor", "7": "dominant", "m7": "minor-seventh", "maj7": "major-seventh",
    "m7b5": "half-diminished", "m6": "minor-sixth", "6": "major-sixth",
}  # fmt: skip


def chord(text: str) -> ChordSymbol:
    size = 2 if len(text) > 1 and text[1] in "b#" else 1
    return ChordSymbol(NoteName.parse(text[:size]), _KINDS[text[size:]])


def bar(text: str, number: int, key: Key, meter: Meter) -> Bar:
    head, _, body = text.rpartition(":")
    onset = Fraction(0)
    notes = []
    for word in body.split():
        name, _, length = word.partition("/")
        pitch = None if name == "r" else Pitch.parse(name)
        notes.append(Note(onset, Fraction(length or 1), pitch))
        onset += Fraction(length or 1)
    symbols = head.split()
    events = tuple(
        ChordEvent(Fraction(k) * meter.bar_length / len(symbols), chord(s))
        for k, s in enumerate(symbols)
    )
    return Bar(number, tuple(notes), events, meter, key)


def tune(text: str, key: str = "C minor", meter: str = "4/4") -> Tune:
    bars = [part.strip() for part in text.split("|") if part.strip()]
    return Tune(
        "Test tune",
        tuple(
            bar(part, number, Key.parse(key), Meter.parse(meter))
            for number, part in enumerate(bars, start=1)
        ),
    )


A = """
Cm6: C5/2 Eb5 G5 | Dm7b5 G7: F5/1 Eb5 D5/2 | Cm6: C5/1 D5 Eb5/2 | Cm6: r/2 G4/1 G4/1 |
Fm7: Ab4/2 C5 F5 | Dm7b5 G7: Eb5/1.5 D5/0.5 B4/2 | Cm6: C5/3 r/1 | """
AABA = (
    A + "G7: r/4 |" + A + "Cm6: C4/4 |"
    + """
Fm7: Ab5/4 | Bb7: G5/1 F5 D5 Bb4 | Ebmaj7: G5/4 | Ebmaj7: r/2 Eb5/1 F5/1 |
Dm7b5: Ab5/1 F5 D5 C5 | G7: B4/4 | Dm7b5: D5/1 C5 Ab4 F4 | G7: G4/2 r/2 |"""
    + A + "Cm6: C4/4 |"
)  # fmt: skip


@pytest.fixture
def aaba() -> Tune:
    return tune(AABA)


@pytest.fixture
def marked() -> Callable[..., Tune]:
    def mark(music: Tune, marks: dict[int, str]) -> Tune:
        return replace(
            music,
            bars=tuple(
                replace(b, section=marks.get(k, "")) for k, b in enumerate(music.bars)
            ),
        )

    return mark
