"""Phrases: two bars, question and answer, with room to breathe."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from kit.form.find import find_form
from kit.levels.rewrite import silent
from kit.solo.guide_tones import guide_tones
from kit.solo.phrases import RhythmPrompt, phrase_plan
from kit.tune.model import Meter


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_every_bar_is_in_one_phrase_and_every_phrase_rests(aaba, level):
    plan = phrase_plan(aaba, find_form(aaba), level=level)
    assert [n for phrase in plan for n in phrase.numbers] == list(range(1, 33))
    for phrase in plan:
        last = max((onset + length for onset, length in phrase.rhythm.notes), default=0)
        assert last == 8 - phrase.rest
        assert phrase.rest >= 1


def test_rhythms_do_not_overlap(aaba):
    for level in ("beginner", "intermediate", "advanced"):
        for phrase in phrase_plan(aaba, find_form(aaba), level=level):
            notes = phrase.rhythm.notes
            ends = [onset + length for onset, length in notes]
            starts = [onset for onset, _ in notes[1:]]
            assert all(e <= s for e, s in zip(ends, starts, strict=False))


def test_a_pick_up_leaves_a_breath_behind_the_phrase_before(build):
    tune = build('G|"C6"cdeG|"F"fedG|"G7"gfed|"C6"c3G|"C6"cdeG|"F"fedG|"G7"gfed|"C6"c3|]')
    for level in ("beginner", "intermediate", "advanced"):
        for one, after in pairwise(phrase_plan(tune, find_form(tune), level=level)):
            if after.rhythm.notes:
                assert one.rest + min(Fraction(0), after.rhythm.notes[0][0]) >= 1


def test_questions_end_open_and_answers_at_rest(aaba):
    for phrase in phrase_plan(aaba, find_form(aaba)):
        last = phrase.chords[-1]
        if phrase.role == "answer":
            assert phrase.aim == last.root
        else:
            assert phrase.aim in guide_tones(last)
            assert phrase.aim != last.root


def test_roles_alternate_within_each_section(aaba):
    roles = [phrase.role for phrase in phrase_plan(aaba, find_form(aaba))]
    assert roles == ["question", "answer"] * 8


def test_harder_levels_have_busier_rhythms(aaba):
    form = find_form(aaba)
    counts = [
        sum(len(p.rhythm.notes) for p in phrase_plan(aaba, form, level=level))
        for level in ("beginner", "intermediate", "advanced")
    ]
    assert counts == sorted(set(counts))


def test_the_text_counts_as_one_counts(aaba):
    first = phrase_plan(aaba, find_form(aaba))[0]
    assert first.text == (
        "Bars 1 and 2: question, the tune's first idea. Rhythm to borrow: 1 3, then rest; "
        "end open, on B (G7)."
    )


def test_a_rhythm_that_stays_is_counted_out_once(aaba):
    plan = phrase_plan(aaba, find_form(aaba))
    stays = [b.rhythm == a.rhythm for a, b in pairwise(plan) if b.rhythm.notes]
    told = ["The same rhythm;" in b.text for _, b in pairwise(plan) if b.rhythm.notes]
    assert told == stays
    assert any(stays)


def test_three_four_and_an_odd_number_of_bars(build):
    tune = build('"C6"c2d|"G7"d2B|"C6"c3|]', meter="3/4")
    plan = phrase_plan(tune, find_form(tune), level="intermediate")
    assert [phrase.numbers for phrase in plan] == [(1, 2), (3,)]
    assert all(onset + length <= 6 for p in plan for onset, length in p.rhythm.notes)


def test_beats_are_counted_anew_in_each_bar_of_changing_meter():
    prompt = RhythmPrompt(
        tuple((Fraction(onset), Fraction(1, 2)) for onset in ("-1/2", "0", "5/2", "3", "5"))
    )
    assert prompt.counted(Meter(3, 4), Meter(4, 4)) == "(3) & | 1 (3) & | 1 3"


def test_a_sheet_without_melody_has_rhythms_to_borrow_and_claims_no_idea(build):
    read = build('"C6"c4|"G7"d4|"C6"c4|"G7"d4|]')
    tune = replace(read, bars=tuple(silent(bar) for bar in read.bars))
    plan = phrase_plan(tune, find_form(tune))
    assert all(phrase.rhythm.notes for phrase in plan if phrase.move != "rest")
    assert not any("idea" in phrase.text for phrase in plan)


def test_an_unknown_level_is_a_value_error(aaba):
    with pytest.raises(ValueError, match="beginner, intermediate, advanced"):
        phrase_plan(aaba, find_form(aaba), level="expert")
