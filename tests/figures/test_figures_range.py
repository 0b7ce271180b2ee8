"""How bars lie on an instrument, said beside an excerpt for the teacher."""

from dataclasses import replace

import pytest

from kit.figures._range_words import range_words
from kit.figures.excerpt import excerpt
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.abc.read import read_abc

ALTO = instrument("alto-sax")


def words(notes, level="beginner"):
    tune = read_abc(f"X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{notes}|\n", source="x.abc")
    part = replace(write_part(tune, ALTO, level=level), tune=tune)
    return range_words(part, first=0, last=0, level=level)


def test_the_range_of_the_bars_stands_against_that_of_the_instrument():
    assert words("D E F A") == (
        "Written D4 to A4. The alto saxophone reads B♭3 to F♯6; at this level D4 to A5 "
        "lies well, and these bars stay within that."
    )


@pytest.mark.parametrize(
    ("notes", "verdict"),
    [
        ("D E F _B,", "these bars go beyond that"),
        ("D E F G,", "some notes of these bars cannot be played"),
        ("F F F F", "Written only F4"),
    ],
)
def test_the_verdict_follows_the_lowest_and_highest_note(notes, verdict):
    assert verdict in words(notes)


def test_bars_of_rest_say_nothing():
    assert words("z4|C4") == ""


def test_it_is_for_the_teacher_alone(small):
    part = {"level": "beginner", "instrument": "alto-sax"}
    assert "The alto saxophone reads" in excerpt(small, **part, findings=True).words
    assert "alto saxophone reads" not in excerpt(small, **part).html
