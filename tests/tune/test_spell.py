"""Notes without names are named by what they do. Source: common practice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.tune._spell import Unnamed, spelled_line
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Interval, Key


def named(key: str, *midi: int, chord: str = "") -> str:
    held = parse_chord(chord) if chord else None
    line = spelled_line([Unnamed(m, chord=held) for m in midi], Key.parse(key))
    return " ".join(str(pitch.name) for pitch in line)


@pytest.mark.parametrize(
    ("key", "midi", "names"),
    [
        ("C major", (60, 61, 62, 63, 64), "C C♯ D D♯ E"),
        ("C major", (64, 63, 62, 61, 60), "E E♭ D D♭ C"),
        ("C major", (67, 66, 65), "G G♭ F"),
        ("C major", (65, 66, 67), "F F♯ G"),
        ("C major", (72, 70, 69), "C B♭ A"),
        ("G major", (67, 65, 64), "G F E"),
        ("Bb major", (70, 71, 72), "B♭ B C"),
        ("Eb major", (70, 69, 70), "B♭ A B♭"),
    ],
)
def test_chromatic_notes_go_up_with_sharps_and_down_with_flats(key, midi, names) -> None:
    assert named(key, *midi) == names


@pytest.mark.parametrize(
    ("key", "midi", "names"),
    [
        ("A minor", (68, 69), "G♯ A"),
        ("A minor", (66, 68, 69), "F♯ G♯ A"),
        ("C minor", (71, 72), "B C"),
        ("C minor", (69, 71, 72), "A B C"),
        ("F# minor", (65, 66), "E♯ F♯"),
        ("C major", (67, 61, 62), "G C♯ D"),
        ("C major", (72, 68, 69), "C G♯ A"),
    ],
)
def test_leading_notes_are_spelled_from_their_goal(key, midi, names) -> None:
    assert named(key, *midi) == names


@pytest.mark.parametrize(
    ("midi", "names"),
    [
        ((67, 63, 64), "G E♭ E"),
        ((63, 60), "E♭ C"),
        ((60, 70, 67), "C B♭ G"),
        ((67, 66, 65, 63, 60), "G G♭ F E♭ C"),
        ((64, 63, 64), "E D♯ E"),
    ],
)
def test_blue_notes_keep_their_flats_unless_they_lead_on(midi, names) -> None:
    assert named("C major", *midi) == names


@pytest.mark.parametrize(
    ("chord", "midi", "name"),
    [("E7", 68, "G♯"), ("Fm", 68, "A♭"), ("A7", 61, "C♯"), ("B7", 63, "D♯"),
     ("Ab7", 66, "G♭")],
)  # fmt: skip
def test_a_chord_note_is_spelled_as_in_its_chord(chord, midi, name) -> None:
    assert named("C major", midi, chord=chord) == name


def test_a_rest_parts_a_note_from_its_goal() -> None:
    line = spelled_line([Unnamed(61), Unnamed(62, follows=False)], Key(0))
    assert str(line[0]) == "D♭4"


MELODIES = st.lists(st.integers(48, 84), min_size=1, max_size=12)
KEYS = st.builds(Key, st.integers(-6, 6), st.sampled_from(["major", "minor", "dorian"]))


@given(MELODIES, KEYS)
def test_every_note_keeps_its_sound_and_gets_a_readable_name(midi, key) -> None:
    line = spelled_line([Unnamed(m) for m in midi], key)
    assert [pitch.midi for pitch in line] == midi
    assert all(
        abs(pitch.alter) < 2 or pitch.name.fifths - key.fifths < 11 for pitch in line
    )


@given(MELODIES, st.integers(-1, 1), st.sampled_from(["major", "minor"]))
def test_names_move_with_the_key(midi, fifths, mode) -> None:
    key = Key(fifths, mode)
    up = Interval.parse("M2")
    there = spelled_line([Unnamed(m) for m in midi], key)
    moved = spelled_line([Unnamed(m + 2) for m in midi], key + up)
    plain = range(-6, 11)
    for low, high in zip(there, moved, strict=True):
        if (low + up).name.fifths in plain:
            assert high == low + up
