"""The chord symbol: how it prints, what it contains, how it moves."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.pitch import Interval, NoteName

C = NoteName("C")


@pytest.mark.parametrize(
    ("symbol", "printed"),
    [
        (ChordSymbol(C, "minor-seventh"), "Cm7"),
        (ChordSymbol(NoteName("B", -1), "half-diminished"), "B♭m7♭5"),
        (ChordSymbol(C, "dominant", (Degree(9, -1),)), "C7♭9"),
        (ChordSymbol(C, "dominant", (Degree(9, -1), Degree(5, 1, "alter"))), "C7(♭9,♯5)"),
        (ChordSymbol(C, "major-sixth", (Degree(9),)), "C6/9"),
        (ChordSymbol(C, "suspended-fourth", (Degree(7),)), "C7sus4"),
        (ChordSymbol(C, "suspended-fourth", (Degree(7), Degree(9), Degree(13))), "C13sus4"),
        (ChordSymbol(C, "major", (), NoteName("G")), "C/G"),
        (ChordSymbol(C, "minor", (Degree(9),)), "Cmadd9"),
        (ChordSymbol(None, "none"), "N.C."),
    ],
)
def test_chords_print_in_one_style(symbol, printed):
    assert str(symbol) == printed


def test_an_altered_dominant_prints_as_alt():
    changes = (
        Degree(5, -1, "alter"), Degree(5, 1), Degree(9, -1), Degree(9, 1),
    )  # fmt: skip
    assert str(ChordSymbol(NoteName("G"), "dominant", changes)) == "G7alt"


def test_a_flat_sign_never_touches_a_bare_root():
    # "C♭5" would be read as the fifth of C flat.
    assert str(ChordSymbol(C, "major", (Degree(5, -1, "alter"),))) == "C(♭5)"


def test_an_added_seventh_is_the_minor_seventh():
    # MusicXML 4.0, degree-alter: relative to the major or dominant chord.
    chord = ChordSymbol(C, "suspended-fourth", (Degree(7),))
    assert NoteName("B", -1) in chord.note_names


@given(
    st.sampled_from(sorted(set(KINDS) - {"none"})),
    st.integers(-6, 6),
    st.sampled_from(["M2", "M6", "M9", "-m3", "P5"]),
)
def test_transposing_moves_every_chord_note(kind, root, interval):
    chord = ChordSymbol(NoteName.from_fifths(root), kind)
    step = Interval.parse(interval)
    moved = {(pc + step.semitones) % 12 for pc in chord.pitch_classes}
    assert (chord + step).pitch_classes == moved


def test_an_unknown_kind_is_refused():
    with pytest.raises(ValueError, match="not a MusicXML chord kind"):
        ChordSymbol(C, "dominant-15th")
