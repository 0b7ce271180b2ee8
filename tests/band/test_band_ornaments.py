"""Ornaments are played as the signs say.

Source: the tables of ornaments in instrumental tutors (common practice): a turn begins
above, an inverted one below; a mordent goes down, an inverted one up; a delayed turn comes
at the end of its note; a shake is a wide trill.
"""

import pytest

from kit.band._ornaments import ornament
from kit.tune.marks import marks
from kit.tune.pitch import Key, Pitch

KEY = Key.parse("F major")
NOTE = Pitch.parse("A4")
THIRD, ABOVE, MAIN, BELOW = 72, 70, 69, 67
"""B flat and G are the notes beside A in F major, C is the third above it."""


@pytest.mark.parametrize(
    ("mark", "heights"),
    [
        ("turn", (ABOVE, MAIN, BELOW, MAIN)),
        ("inverted-turn", (BELOW, MAIN, ABOVE, MAIN)),
        ("delayed-turn", (MAIN, ABOVE, MAIN, BELOW, MAIN)),
        ("mordent", (MAIN, BELOW, MAIN)),
        ("inverted-mordent", (MAIN, ABOVE, MAIN)),
    ],
)
def test_an_ornament_goes_through_these_notes(mark, heights):
    assert tuple(midi for midi, _ in ornament(NOTE, KEY, (mark,), 0.8)) == heights


@pytest.mark.parametrize(("mark", "other"), [("trill-mark", ABOVE), ("shake", THIRD)])
def test_it_goes_to_and_fro_and_ends_on_its_own_note(mark, other):
    row = ornament(NOTE, KEY, (mark,), 0.8)
    assert {midi for midi, _ in row} == {MAIN, other}
    assert row[0][0] == row[-1][0] == MAIN


@pytest.mark.parametrize("seconds", [0.12, 0.3, 2.0])
def test_the_notes_of_every_ornament_fill_its_time(seconds):
    for name in marks():
        row = ornament(NOTE, KEY, (name,), seconds)
        assert sum(share for _, share in row) == pytest.approx(1)
        assert all(share > 0 for _, share in row)


def test_every_ornament_is_heard():
    for name, mark in marks().items():
        if mark.group == "ornaments":
            assert len(ornament(NOTE, KEY, (name,), 0.8)) > 1


def test_a_note_too_short_for_an_ornament_is_played_plain():
    assert ornament(NOTE, KEY, ("turn",), 0.1) == ((MAIN, 1.0),)
