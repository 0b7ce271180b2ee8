"""What a part asks of its instrument, in the small lesson and in parts of a few notes."""

import re
from dataclasses import replace

import pytest

from kit.figures.part_range import part_range
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.abc.read import read_abc

ALTO = instrument("alto-sax")


class Lesson:
    """A lesson of one part, whose notes are written as the player reads them."""

    def __init__(self, level, part):
        self._level, self._part = level, part

    def part(self, level, slug):
        return self._part

    def level(self, name):
        return self._level


@pytest.fixture
def shown(small):
    def show(notes, horn=ALTO, *, last_bar=None):
        abc = f"X:1\nT:x\nM:4/4\nL:1/4\nK:C\n{notes}|\n"
        tune = read_abc(abc, source="x.abc")
        tune = replace(tune, bars=tune.bars[:last_bar])
        part = replace(write_part(tune, horn, level="beginner"), tune=tune)
        lesson = Lesson(small.level("beginner"), part)
        return part_range(lesson, level="beginner", instrument=horn.slug)

    return show


def test_the_lowest_and_highest_note_stand_with_their_bars(shown):
    assert shown("D E F A | A G F D").words.splitlines() == [
        "Range: beginner, alto saxophone, in C major.",
        "Alto saxophone: B♭3 to F♯6.",
        "Lies well at this level: D4 to A5.",
        "This part: D4 to A4.",
        "Lowest note: D4, bars 1 and 2.",
        "Highest note: A4, bars 1 and 2.",
        "Every note lies well.",
    ]


def test_each_note_beyond_is_named_with_its_bars_from_the_lowest_up(shown):
    beyond = shown("D E F G, | _B, z c' d' | c' z z z").words.splitlines()[6:10]
    assert beyond == [
        "G3, bar 1: below what the instrument has.",
        "B♭3, bar 2: below what lies well.",
        "C6, bars 2 and 3: above what lies well.",
        "D6, bar 2: above what lies well.",
    ]


def test_grace_notes_count_and_two_names_of_a_note_are_one(shown):
    words = shown("{c'}D E F G | _b ^a D D").words
    assert "C6, bar 1: above what lies well." in words
    assert words.count("above") == 2
    assert "B♭5, bar 2: above" in words


def test_an_instrument_that_has_no_ranges_for_levels_has_one_range(shown):
    words = shown("C D E F", replace(ALTO, comfortable=())).words
    assert "lies well at this level" not in words.casefold()
    assert "Every note lies well." in words


def test_a_part_of_rests_asks_for_nothing(shown):
    figure = shown("z4 | D4", last_bar=1)
    assert "The part has no notes." in figure.words
    assert "Lowest note" not in figure.html
    assert "This part" not in figure.html
    assert "Alto saxophone: B♭3 to F♯6" in figure.html


@pytest.mark.parametrize("notes", ["D E F A", "G, E F d'", "c' d' e' f'", "F F F F"])
def test_what_is_drawn_lies_on_the_scale_and_what_strains_on_the_parts_bar(shown, notes):
    html = shown(notes).html
    drawn = [
        (fill, float(x), float(x) + float(width))
        for x, width, fill in re.findall(
            r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)".*?fill="(#\w+)"', html
        )
    ]
    assert all(0 <= left < right <= 360.1 for _, left, right in drawn)
    (part,) = (ends for fill, *ends in drawn if fill == "#111")
    strained = [ends for fill, *ends in drawn if fill == "#fff"]
    assert all(part[0] <= left < right <= part[1] for left, right in strained)
    assert bool(strained) == ("above" in html or "below" in html)


@pytest.mark.parametrize("horn", ["alto-sax", "tenor-sax", "trombone"])
def test_the_bars_named_are_those_that_the_part_itself_finds(small, horn):
    for level in small.level_names:
        part = small.part(level, horn)
        places = {*part.uncomfortable, *part.out_of_range}
        numbers = {part.tune.bars[bar].number for bar, _ in places}
        words = part_range(small, level=level, instrument=horn).words
        lines = [
            line for line in words.splitlines() if ": above" in line or ": below" in line
        ]
        named = bars_of(" ".join(lines))
        assert named == numbers


def bars_of(words):
    """Read bar numbers back from words: ``C4, bars 7 and 10–12: below ...``."""
    found = set()
    for place in re.findall(r", (?:the pick-up and )?bars? ([^:]*):", words):
        for first, last in re.findall(r"(\d+)(?:–(\d+))?", place):
            found |= set(range(int(first), int(last or first) + 1))
    return found
