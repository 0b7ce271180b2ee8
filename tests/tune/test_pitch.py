"""Spelled pitch arithmetic: laws, and the intervals every wind player lives with."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.tune.pitch import Interval, Key, NoteName, Pitch

names = st.builds(NoteName, st.sampled_from("CDEFGAB"), st.integers(-2, 2))
pitches = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-2, 2), st.integers(0, 8)
)
interval_names = st.sampled_from(
    ["P1", "m2", "M2", "m3", "M3", "P4", "A4", "d5", "P5", "m6", "M6", "m7", "M7", "P8",
     "M9", "M13", "P12", "M16"]
)  # fmt: skip
intervals = st.builds(
    lambda name, down: -Interval.parse(name) if down else Interval.parse(name),
    interval_names,
    st.booleans(),
)


@given(pitches, intervals)
def test_up_and_down_again_is_the_same_pitch(pitch, interval):
    assert (pitch + interval) + -interval == pitch


@given(pitches, intervals)
def test_an_interval_moves_sound_and_staff_position_by_what_it_says(pitch, interval):
    moved = pitch + interval
    assert moved.midi - pitch.midi == interval.semitones
    assert moved.diatonic - pitch.diatonic == interval.steps


@given(pitches, pitches)
def test_the_difference_of_two_pitches_leads_from_one_to_the_other(low, high):
    assert low + (high - low) == high


@given(intervals)
def test_interval_names_read_back(interval):
    assert Interval.parse(interval.name) == interval


@given(names)
def test_note_names_read_back_and_keep_their_place_in_the_fifths(name):
    assert NoteName.parse(str(name)) == name
    assert NoteName.from_fifths(name.fifths) == name


@given(pitches, st.sampled_from([1, 2]))
def test_respelling_keeps_the_sound(pitch, turn):
    other = NoteName.from_fifths(pitch.name.fifths - 12 * turn)
    assert pitch.respelled(other).midi == pitch.midi


def test_respelling_refuses_another_sound():
    with pytest.raises(ValueError, match="does not sound like"):
        Pitch.parse("C4").respelled(NoteName("D"))


@pytest.mark.parametrize(
    ("written", "midi"), [("C4", 60), ("Cb4", 59), ("B#3", 60), ("A4", 69), ("E♭5", 75)]
)
def test_midi_numbers_count_from_middle_c(written, midi):
    assert Pitch.parse(written).midi == midi


@pytest.mark.parametrize(
    ("key", "interval", "written"),
    [
        ("C minor", "M6", "A minor"),
        ("C minor", "M9", "D minor"),
        ("Eb major", "M6", "C major"),
        ("Bb major", "M2", "C major"),
        ("D dorian", "M2", "E dorian"),
    ],
)
def test_keys_move_with_the_music(key, interval, written):
    # Common practice: alto reads a major sixth, tenor a major ninth above concert pitch.
    assert (Key.parse(key) + Interval.parse(interval)).name == written


@pytest.mark.parametrize(
    ("key", "scale"),
    [
        ("C minor", "C D E♭ F G A♭ B♭"),
        ("E major", "E F♯ G♯ A B C♯ D♯"),
        ("F major", "F G A B♭ C D E"),
    ],
)
def test_scales_are_spelled_with_the_signature(key, scale):
    assert " ".join(map(str, Key.parse(key).scale)) == scale


@pytest.mark.parametrize("text", ["H4", "C", "4", "", "C#b4"])
def test_what_is_not_a_pitch_is_refused(text):
    with pytest.raises(ValueError, match="is not a pitch"):
        Pitch.parse(text)


@pytest.mark.parametrize("text", ["M5", "P3", "x", "M0", "6"])
def test_what_is_not_an_interval_is_refused(text):
    with pytest.raises(ValueError, match="is not an interval"):
        Interval.parse(text)


def test_pitches_are_said_in_words():
    assert Pitch.parse("Bb4").in_words == "B flat 4"
