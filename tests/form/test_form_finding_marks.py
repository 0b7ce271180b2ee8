"""Sections from marks, from ranges in the lesson file, and by comparison."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.errors import LessonError
from kit.form._search import found_form
from kit.form.find import find_form, form_disagreement
from kit.form.ranges import form_from_ranges
from kit.tune.model import Bar, Note, Tune
from kit.tune.pitch import Pitch
from kit.tune.unfold import unfolded


def test_an_aaba_without_marks_is_found_with_its_bars(aaba):
    form = find_form(aaba)
    assert (form.pattern, form.source) == ("AABA", "found")
    assert [(s.first, s.last) for s in form.sections] == [
        (0, 7), (8, 15), (16, 23), (24, 31),
    ]  # fmt: skip


@pytest.mark.parametrize("variants", [("A1", "A2", "B", "A3"), ("A", "A'", "B", "A″")])
def test_variants_of_a_mark_are_one_label(aaba, marked, variants):
    form = find_form(marked(aaba, dict(zip((0, 8, 16, 24), variants, strict=True))))
    assert (form.pattern, form.source) == ("AABA", "marks")


def test_words_with_numbers_keep_the_word(aaba, marked):
    form = find_form(
        marked(aaba, {0: "Verse 1", 8: "Verse 2", 16: "Bridge", 24: "Verse 3"})
    )
    assert form.labels == ("Verse", "Bridge")


def test_bars_before_the_first_mark_are_a_section_of_their_own(aaba, marked):
    assert find_form(marked(aaba, {16: "B", 24: "C"})).pattern == "ABC"
    assert find_form(marked(aaba, {8: "A", 16: "B"})).labels == ("Intro", "A", "B")


def test_marks_win_over_what_the_music_says(aaba, marked):
    form = find_form(marked(aaba, {0: "A", 16: "B"}))
    assert [s.bar_count for s in form.sections] == [16, 16]


def _with_pickups(music: Tune, *, mark_on_pickup: bool) -> Tune:
    """Bar 8 gives up its last beat to a pick-up into bar 9; a pick-up also opens."""
    beat = (Note(Fraction(0), Fraction(1), Pitch.parse("G4")),)
    lead = "A" if mark_on_pickup else ""
    on_bar = "" if mark_on_pickup else "A"
    bars = list(music.bars[:16])
    bars[0] = replace(bars[0], section=on_bar)
    bars[7] = replace(bars[7], notes=(Note(Fraction(0), Fraction(3), None),))
    bars[8] = replace(bars[8], section=on_bar)
    opening = Bar(0, beat, section=lead, pickup=True, key=music.key)
    middle = Bar(8, beat, section=lead, pickup=True, key=music.key)
    return replace(music, bars=(opening, *bars[:8], middle, *bars[8:]))


@pytest.mark.parametrize("mark_on_pickup", [True, False])
def test_a_pickup_belongs_to_the_section_it_leads_into(aaba, mark_on_pickup):
    form = find_form(_with_pickups(aaba, mark_on_pickup=mark_on_pickup))
    assert form.pattern == "AA"
    assert [(s.pickup, s.first, s.last) for s in form.sections] == [(0, 1, 8), (9, 10, 17)]


def test_pickups_are_placed_without_marks_too(aaba):
    music = _with_pickups(aaba, mark_on_pickup=True)
    form = found_form(music)
    assert [s.pickup for s in form.sections] == [0, 9]


def test_one_range_serves_both_passes_of_a_repeat(aaba):
    bars = list(aaba.bars[:8] + aaba.bars[16:24])
    bars[7] = replace(bars[7], repeat_times=2)
    bars = [replace(b, number=k) for k, b in enumerate(bars, start=1)]
    played = unfolded(replace(aaba, bars=tuple(bars)))
    ranges = [{"label": "A", "bars": "1-8"}, {"label": "B", "bars": "9–16"}]
    assert form_from_ranges(played, ranges).pattern == "AAB"
    assert found_form(played).pattern == "AAB"


def test_ranges_with_the_same_bars_take_turns(aaba):
    bars = list(aaba.bars[:8])
    bars[7] = replace(bars[7], repeat_times=2)
    played = unfolded(replace(aaba, bars=tuple(bars)))
    ranges = [{"label": "A", "bars": "1-8"}, {"label": "B", "bars": "1-8"}]
    assert form_from_ranges(played, ranges).pattern == "AB"


@pytest.mark.parametrize(
    ("ranges", "message"),
    [
        ([{"label": "A", "bars": "1-40"}], "no bar 40"),
        ([{"label": "A", "bars": "one to eight"}], "write it like"),
        ([{"label": "", "bars": "1-8"}], "write it like"),
        ([{"label": "A", "bars": "1-8"}], "bar 9: the bar belongs to no section"),
        ([{"label": "A", "bars": "8-1"}], "another order"),
    ],
)
def test_a_range_that_does_not_fit_is_one_sentence(aaba, ranges, message):
    with pytest.raises(LessonError, match=message):
        form_from_ranges(aaba, ranges)


def test_wrong_marks_are_reported_and_right_ones_are_not(aaba, marked):
    right = marked(aaba, {0: "A", 8: "A", 16: "B", 24: "A"})
    assert form_disagreement(right, find_form(right)) is None
    same = marked(aaba, {0: "A", 8: "A", 16: "B", 24: "C"})
    report = form_disagreement(same, find_form(same))
    assert report is None or "same music as A" in report
    unlike = marked(aaba, {0: "A", 8: "A", 16: "A", 24: "A"})
    report = form_disagreement(unlike, find_form(unlike))
    assert report is not None
    assert report.startswith("Bars 17–24 are called A")


def test_a_tune_of_pickups_only_has_no_sections():
    bar = Bar(0, (Note(Fraction(0), Fraction(1), None),), pickup=True)
    assert found_form(Tune("", (bar,))).sections == ()
