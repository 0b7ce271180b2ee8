"""Chords in context against the scales that textbooks give for them.

Three tables lie beside this file, each row with its source: one the rules were made with,
one written with it and not looked at meanwhile, one written afterwards. Scales that are
modes of others are compared with music21.scale (BSD library, from the package index).
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from music21 import pitch as m21pitch
from music21 import scale as m21scale

from kit.solo._scales import chord_scales, scale_on
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import Key, NoteName

TABLES = ("chord_scales.toml", "chord_scales_unseen.toml", "chord_scales_fresh.toml")


def rows_of(table: str) -> list[list]:
    text = (Path(__file__).parent / table).read_text(encoding="utf-8")
    return tomllib.loads(text)["rows"]


ROWS = [
    pytest.param(*row, id=f"{row[0]} [{row[1]}] {row[2]} in {row[3]}")
    for table in TABLES
    for row in rows_of(table)
]


@pytest.mark.parametrize(
    ("before", "chord", "after", "key", "expected", "accepted", "source"), ROWS
)
def test_a_chord_gets_the_scale_that_textbooks_give(
    before, chord, after, key, expected, accepted, source
):
    found = chord_scales(
        parse_chord(chord),
        Key.parse(key),
        before=parse_chord(before) if before else None,
        after=parse_chord(after) if after else None,
    )
    assert str(found[0]) in (expected, *accepted), source


def test_the_tables_are_large_and_each_row_has_a_source():
    assert len(rows_of("chord_scales.toml")) >= 80
    assert len(rows_of("chord_scales_unseen.toml")) >= 30
    for table in TABLES:
        for row in rows_of(table):
            assert row[-1].startswith(("NG", "ML", "MH", "DH", "CP"))


def up(notes: list[m21pitch.Pitch], degree: int) -> list[str]:
    """Name the notes of a mode upward from one of its parent's degrees."""
    names = [note.name.replace("-", "♭").replace("#", "♯") for note in notes[:7]]
    return names[degree - 1 :] + names[: degree - 1]


# The mode of which parent, from which of its degrees: common practice.
MODES = [
    ("lydian dominant", "melodic", 4),
    ("lydian augmented", "melodic", 3),
    ("mixolydian ♭13", "melodic", 5),
    ("locrian ♮2", "melodic", 6),
    ("dorian ♭2", "melodic", 2),
    ("mixolydian ♭9♭13", "harmonic", 5),
]


@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "F", "B-", "E-"])
@pytest.mark.parametrize(("name", "parent", "degree"), MODES)
def test_modes_have_the_notes_of_their_parents(tonic, name, parent, degree):
    if parent == "melodic":
        upward = m21scale.Direction.ASCENDING
        theirs = m21scale.MelodicMinorScale(tonic).getPitches(direction=upward)
    else:
        theirs = m21scale.HarmonicMinorScale(tonic).getPitches()
    expected = up(theirs, degree)
    ours = scale_on(name, NoteName.parse(expected[0]))
    assert [str(note) for note in ours.notes] == expected


@pytest.mark.parametrize("tonic", ["C", "G", "D", "A", "F", "B-", "E-"])
def test_the_altered_scale_has_the_sounds_of_a_melodic_minor_a_half_step_up(tonic):
    upward = m21scale.Direction.ASCENDING
    theirs = m21scale.MelodicMinorScale(tonic).getPitches(direction=upward)
    ours = scale_on("altered", NoteName.parse(up(theirs, 7)[0]))
    assert ours.pitch_classes == {note.pitchClass for note in theirs}
