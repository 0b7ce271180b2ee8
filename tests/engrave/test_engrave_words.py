"""Bars in words, for those who listen instead of look."""

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.engrave.words import chord_in_words, describe_bars
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.chord import ChordSymbol, Degree
from kit.tune.model import Bar, ChordEvent, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch


@pytest.mark.parametrize(
    ("symbol", "words"),
    [
        (ChordSymbol(NoteName("C"), "major"), "C major"),
        (ChordSymbol(NoteName("F", 1), "half-diminished"), "F sharp minor seven flat five"),
        (ChordSymbol(NoteName("G"), "dominant", (Degree(5, 1), Degree(9, -1))),
         "G seven sharp five flat nine"),
        (ChordSymbol(NoteName("C"), "major", (Degree(9),)), "C major add nine"),
        (ChordSymbol(NoteName("C"), "dominant", (Degree(5, 0, "subtract"),)),
         "C seven no five"),
        (ChordSymbol(NoteName("C"), "minor", (), NoteName("B", -1)), "C minor over B flat"),
        (ChordSymbol(None, "none"), "no chord"),
    ],
)  # fmt: skip
def test_chords_in_words(symbol, words):
    assert chord_in_words(symbol) == words


def test_a_bar_is_said_at_written_pitch():
    notes = (
        Note(Fraction(0), Fraction(3, 2), Pitch.parse("Eb4"), marks=("falloff",)),
        Note(Fraction(3, 2), Fraction(1, 2), None),
        Note(Fraction(2), Fraction(2), Pitch.parse("C4"), tied=True),
    )
    chords = (ChordEvent(Fraction(0), ChordSymbol(NoteName("C"), "minor")),)
    bar = Bar(1, notes, chords, key=Key.parse("C minor"), section="A")
    rest = Bar(
        2,
        (Note(Fraction(0), Fraction(4), None),),
        key=bar.key,
        repeat_times=2,
        endings=(1,),
    )
    part = write_part(Tune("", (bar, rest)), instrument("alto-sax"))
    assert describe_bars(part) == (
        "Section A. Bar 1, A minor: C 5, dotted quarter, fall; rest, eighth; "
        "A 4, half, tied.",
        "Bar 2, ending 1: rest. Repeat.",
    )
    assert describe_bars(part, first=1) == describe_bars(part)[1:]


def test_a_pickup_is_named():
    pickup = Bar(0, (Note(Fraction(0), Fraction(1), Pitch.parse("G4")),), pickup=True)
    full = Bar(1, (Note(Fraction(0), Fraction(4), Pitch.parse("C5")),))
    part = write_part(Tune("", (pickup, replace(full))), instrument("flute"))
    assert describe_bars(part)[0] == "Pick-up: G 4, quarter."
