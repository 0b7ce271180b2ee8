"""Difficulty: each part answers to what it measures, and levels come out in order."""

from __future__ import annotations

import re

import pytest

from kit.form.find import find_form
from kit.instruments.table import all_instruments, instrument
from kit.instruments.transposition import write_part
from kit.lesson.lesson import open_lesson
from kit.levels.difficulty import difficulty, difficulty_by_bar
from kit.levels.draft import draft_edits
from kit.levels.edits import apply_edits
from kit.tune.model import transposed
from kit.tune.pitch import Interval


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


def test_an_instrument_measures_in_its_own_terms(aaba):
    plain, trumpet = (
        difficulty(aaba, 120, instrument=one).parts for one in (None, instrument("trumpet"))
    )
    assert "register" not in plain
    assert trumpet["register"].words == "2 notes beyond A3 to G5"
    assert "one breath carries about" in trumpet["breath"].words


def test_a_line_over_the_break_is_harder_for_who_has_one(build):
    """Common practice: A4 to B4 is the clarinet's break; the flute has none there."""
    over, under = build("A B A B|A B A B|]"), build("F G F G|F G F G|]")
    clarinet = instrument("clarinet")
    figures = [
        difficulty(tune, 120, instrument=clarinet).parts["fingers"]
        for tune in (over, under)
    ]
    assert figures[0].words == "7 awkward steps: 7 over the break"
    assert figures[1].words == "no awkward steps"
    assert figures[0].value > figures[1].value == 1.0


def test_what_is_hard_for_one_is_easy_for_another_of_the_same_range(build):
    """B flat 2 to C3: 1st to 6th position, but one valve (acoustics)."""
    tune = build("B,, C, B,, C,|B,, C, B,, C,|]", key="Bb")
    slide, valves = (
        difficulty(tune, 120, instrument=instrument(name)).parts[part]
        for name, part in (("trombone", "slide"), ("euphonium", "valves"))
    )
    assert slide.words == "7 awkward steps: 7 with a long way of the slide"
    assert valves.words == "no awkward steps"
    assert slide.value > valves.value == 1.0


def test_slow_notes_give_the_hands_their_time(build):
    tune = build("A B A B|A B A B|]")
    values = [
        difficulty(tune, tempo, instrument=instrument("clarinet")).parts["fingers"].value
        for tempo in (40, 90, 240)
    ]
    assert values == sorted(set(values))
    assert values[0] == 1.0


def test_grace_notes_are_ways_for_the_hands(build):
    slide = instrument("trombone")
    over, beside = (
        difficulty(build(body, key="Bb"), 120, instrument=slide).parts["slide"]
        for body in ("D, {C,}B,, D, D,|]", "D, {A,,}B,, D, D,|]")
    )
    assert over.value > beside.value


def test_a_bar_says_why_it_is_hard_and_the_step_into_it_counts(build):
    """The way from 1st to 6th position is that of the second bar."""
    tune = build("B,, B,, B,, B,,|C, C, C, C,|D, D, D, D,|]", key="Bb")
    bars = difficulty_by_bar(tune, 120, instrument=instrument("trombone"))
    assert [bar.why for bar in bars] == [
        "",
        "the slide goes from 1st to 6th position",
        "",
    ]
    assert bars[1].overall > bars[2].overall
    assert not any(bar.why for bar in difficulty_by_bar(tune, 120))
    fast = build("c4|d4|c/d/e/f/ g/f/e/d/|]")
    assert difficulty_by_bar(fast, 120)[2].why == "there are more notes than in most bars"


def test_a_concert_sheet_is_measured_as_the_player_reads_it(aaba):
    alto = instrument("alto-sax")
    written = difficulty(write_part(aaba, alto).tune, 120, instrument=alto)
    assert difficulty(aaba, 120, instrument=alto, concert=True) == written
    assert written.parts["key"].words == "no sharps or flats"
    with pytest.raises(ValueError, match="name one"):
        difficulty(aaba, 120, concert=True)


def test_high_notes_weigh_more_where_they_lie_high(build):
    tune = build("c' d' e' d'|c' d' e' d'|]")
    flute, trumpet = (
        difficulty(tune, 120, instrument=instrument(name)).parts["register"].value
        for name in ("flute", "trumpet")
    )
    assert trumpet > flute == 1.0


@pytest.mark.parametrize("lesson", ["lamplighters-detour", "the-girl-i-left-behind-me"])
def test_the_demo_lessons_levels_come_in_order_for_every_instrument(request, lesson):
    opened = open_lesson(request.config.rootpath / "lessons" / lesson)
    for one in all_instruments():
        figures = [
            difficulty(level.sheet, level.tempo_qpm, instrument=one, concert=True).overall
            for level in opened.levels
        ]
        assert figures == sorted(set(figures)), one.slug


def test_nothing_is_given_as_a_reason(build):
    easy = difficulty(build("c4|d4|c4|]"), 40)
    assert not re.search(r"\b(?<!\.)0 |\bno ", easy.sentence)


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
