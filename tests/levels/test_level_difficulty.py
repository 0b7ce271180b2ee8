"""Difficulty: each part answers to what it measures, and levels come out in order."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from kit.form import find_form
from kit.levels import apply_edits, difficulty, difficulty_by_bar, draft_edits
from kit.tune.model import transposed
from kit.tune.pitch import Interval, Pitch


@dataclass(frozen=True)
class Horn:
    range_written: tuple[Pitch, Pitch] = (Pitch("B", -1, 3), Pitch("F", 1, 6))


def test_levels_come_out_in_order(aaba):
    form = find_form(aaba)
    middle = apply_edits(aaba, draft_edits(aaba, form, level="intermediate"))
    hard = apply_edits(aaba, draft_edits(aaba, form, level="advanced"))
    figures = [
        difficulty(aaba, 120).overall,
        difficulty(middle, 140).overall,
        difficulty(hard, 180).overall,
    ]
    assert figures == sorted(set(figures))
    assert all(1.0 <= figure <= 10.0 for figure in figures)


@pytest.mark.parametrize(
    ("part", "easy", "hard"),
    [
        ("speed", "c2 d2|e4|]", "c/d/e/f/ g/f/e/d/|c4|]"),
        ("range", "c d e f|g4|]", "C d a c'|c4|]"),
        ("leaps", "c d e f|g4|]", "c a c a|c4|]"),
        ("chromatic notes", "c d e f|g4|]", "c ^c d ^d|e4|]"),
        ("syncopation", "c d e f|g4|]", "c/d e f g/-|g4|]"),
        ("rhythm", "c d e f|g4|]", "(3c/d/e/ d e/4f/4g/4a/4 f|g4|]"),
        ("breath", "c d e z|g3 z|]", "c d e f|g4|c d e f|g4|]"),
        ("decoration", "c d e f|g4|]", "{B}c !accent!d .e f|g4|]"),
    ],
)
def test_each_part_rises_with_what_it_measures(build, part, easy, hard):
    low, high = (difficulty(build(body), 120).parts[part] for body in (easy, hard))
    assert low.value < high.value
    assert low.words != high.words


def test_the_written_key_counts_as_the_player_reads_it(build):
    tune = build("c d e f|g4|]")
    sharp = transposed(tune, Interval.parse("M6"))
    assert difficulty(tune, 120).parts["key"].words == "no sharps or flats"
    assert difficulty(sharp, 120).parts["key"].words == "3 sharps"


def test_a_faster_tempo_is_harder_on_the_fingers_and_a_slower_one_on_the_breath(aaba):
    fast, slow = difficulty(aaba, 240), difficulty(aaba, 60)
    assert fast.parts["speed"].value > slow.parts["speed"].value
    assert fast.parts["breath"].value < slow.parts["breath"].value
    figures = [difficulty(aaba, tempo).overall for tempo in range(100, 300, 20)]
    assert figures == sorted(figures)
    assert figures[0] < figures[-1]


def test_an_instrument_adds_its_registers(aaba):
    assert "register" not in difficulty(aaba, 120).parts
    parts = difficulty(aaba, 120, instrument=Horn()).parts
    assert parts["register"].words.endswith("high or low on the instrument")


def test_the_sentence_names_figure_and_causes(aaba):
    result = difficulty(aaba, 120)
    assert result.sentence.startswith(
        f"Difficulty {result.overall:.1f} of 10, most of all "
    )


def test_an_empty_sheet_is_the_easiest(build):
    tune = build("c4|]")
    silent = type(tune)("", tuple(type(b)(b.number, ()) for b in tune.bars))
    assert difficulty(silent, 120).overall == 1.0
    assert difficulty_by_bar(silent, 120) == ()


def test_bars_that_come_back_are_known_as_such(aaba):
    bars = {bar.number: bar for bar in difficulty_by_bar(aaba, 120)}
    assert 8 not in bars
    assert bars[9].same_as == 1
    assert bars[9].overall == bars[1].overall
    assert bars[16].same_as is None


def test_a_tempo_of_zero_is_a_programmers_mistake(aaba):
    with pytest.raises(ValueError, match="above zero"):
        difficulty(aaba, 0)
