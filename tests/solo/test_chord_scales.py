"""The scale of a chord, whatever the chord, its neighbours and the key."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.solo._chord_rules import Standing
from kit.solo._scales import chord_scale, chord_scales, scale_names, scale_on
from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Interval, Key, NoteName

ROOTS = st.builds(NoteName.from_fifths, st.integers(-7, 9))
ADDED = st.sampled_from(
    [Degree(9, -1), Degree(9), Degree(9, 1), Degree(11, 1), Degree(13, -1), Degree(13)]
)
CHORDS = st.builds(
    ChordSymbol,
    ROOTS,
    st.sampled_from([kind for kind in KINDS if KINDS[kind].notes]),
    st.lists(ADDED, max_size=2, unique=True).map(tuple),
    st.none() | ROOTS,
)
KEYS = st.builds(
    Key,
    st.integers(-6, 6),
    st.sampled_from(["major", "minor", "dorian", "phrygian", "lydian", "mixolydian"]),
)
NEIGHBOURS = st.none() | CHORDS


@given(CHORDS, KEYS, NEIGHBOURS, NEIGHBOURS)
def test_the_scale_holds_every_note_that_the_chord_states(chord, key, before, after):
    found = chord_scale(chord, key, before=before, after=after)
    standing = Standing.of(chord)
    assert found is not None
    assert standing is not None
    held = {(pitch - standing.root.pitch_class) % 12 for pitch in found.pitch_classes}
    # A foreign bass may be held under the chord; its own notes may not be missing.
    assert standing.stated - standing.held_below <= held


@given(CHORDS, KEYS, NEIGHBOURS, NEIGHBOURS, st.integers(1, 11))
def test_transposition_changes_nothing_but_the_pitch(chord, key, before, after, fifths):
    # By fifths up, so that every chord and key has its own new name.
    interval = Interval(4 * fifths, 7 * fifths)

    def moved(symbol):
        return None if symbol is None else symbol + interval

    here = chord_scales(chord, key, before=before, after=after)
    there = chord_scales(
        moved(chord), key + interval, before=moved(before), after=moved(after)
    )
    assert [scale.name for scale in here] == [scale.name for scale in there]
    for one, other in zip(here, there, strict=True):
        up = {(pitch + interval.semitones) % 12 for pitch in one.pitch_classes}
        assert up == other.pitch_classes


@given(CHORDS, KEYS, NEIGHBOURS, NEIGHBOURS)
def test_no_scale_is_written_with_double_signs(chord, key, before, after):
    for scale in chord_scales(chord, key, before=before, after=after):
        assert all(abs(note.alter) < 2 for note in scale.notes), str(scale)


SEVENS = [
    name for name in scale_names() if scale_on(name, NoteName("C")).notes[6:7]
    and name not in ("altered", "half-whole diminished", "whole-half diminished")
]  # fmt: skip


@pytest.mark.parametrize("name", SEVENS)
@pytest.mark.parametrize("fifths", range(-7, 12))
def test_a_scale_of_seven_notes_has_each_letter_once(name, fifths):
    scale = scale_on(name, NoteName.from_fifths(fifths))
    letters = "".join(note.step for note in scale.notes)
    assert sorted(letters) == list("ABCDEFG")
    assert all(abs(note.alter) < 2 for note in scale.notes)


@pytest.mark.parametrize("name", scale_names())
@pytest.mark.parametrize("fifths", range(-7, 12))
def test_beside_a_chord_a_scale_keeps_its_root(name, fifths):
    root = NoteName.from_fifths(fifths)
    scale = scale_on(name, root, beside_chord=True)
    assert scale.tonic.pitch_class == root.pitch_class
    if scale.tonic != root:
        # Only where the scale has plain names throughout, and the root had none.
        assert str(root) in ("C♭", "F♭", "E♯", "B♯")


def test_a_chord_that_no_rule_knows_gets_its_own_notes_and_says_so():
    for text, notes in [("C7(b9,13,#5)", "C D♭ E G♯ A B♭"), ("Cmaj7(#9)", "C D♯ E G B")]:
        (only,) = chord_scales(parse_chord(text), Key(0))
        assert not only.usual
        assert " ".join(map(str, only.notes)) == notes
        assert str(only) == f"no usual scale; its own notes are {notes}"


def test_the_other_good_answer_is_named_second():
    goal, five = parse_chord("Cm7"), parse_chord("G7")
    found = chord_scales(five, Key.parse("C minor"), after=goal)
    assert [str(scale) for scale in found] == ["G mixolydian ♭9♭13", "G altered"]


def test_where_a_dominant_goes_decides_its_scale():
    def over_a7(after):
        return str(chord_scale(parse_chord("A7"), Key(0), after=parse_chord(after)))

    assert over_a7("Dm7") == "A mixolydian ♭9♭13"
    assert over_a7("D7") == "A mixolydian"
    assert over_a7("Ab7") == "A lydian dominant"


def test_a_bass_that_makes_a_suspended_chord_is_its_root():
    assert str(chord_scale(parse_chord("F/G"), Key(0))) == "G mixolydian"
    assert str(chord_scale(parse_chord("Dm7b5/G"), Key(0))) == "G phrygian"
    # A bass that is a note of the chord changes nothing.
    assert str(chord_scale(parse_chord("C/G"), Key(0))) == "C major"


def test_every_rule_names_scales_of_the_table_and_its_source():
    text = files("kit.solo").joinpath("chord_scales.toml").read_text(encoding="utf-8")
    known = {*scale_names(), "own"}
    for rule in tomllib.loads(text)["rules"]:
        assert {*rule["scales"], *rule.get("otherwise", ())} <= known
        assert rule["source"].startswith(("NG", "ML", "MH", "DH", "CP")), rule
