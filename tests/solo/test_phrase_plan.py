"""Phrases: two bars, question and answer, with room to breathe."""

from __future__ import annotations

import pytest

from kit.form.find import find_form
from kit.solo.guide_tones import guide_tones
from kit.solo.phrases import phrase_plan


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_every_bar_is_in_one_phrase_and_every_phrase_rests(aaba, level):
    plan = phrase_plan(aaba, find_form(aaba), level=level)
    assert [n for phrase in plan for n in phrase.numbers] == list(range(1, 33))
    for phrase in plan:
        last = max(onset + length for onset, length in phrase.rhythm.notes)
        assert last <= 8 - phrase.rest
        assert phrase.rest == 2


def test_rhythms_do_not_overlap(aaba):
    for level in ("beginner", "intermediate", "advanced"):
        for phrase in phrase_plan(aaba, find_form(aaba), level=level):
            notes = phrase.rhythm.notes
            ends = [onset + length for onset, length in notes]
            starts = [onset for onset, _ in notes[1:]]
            assert all(e <= s for e, s in zip(ends, starts, strict=False))


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
        "Bars 1 and 2: question. Rhythm to borrow: 1 2 3 | 1, then rest; "
        "end open, on B (G7)."
    )


def test_three_four_and_an_odd_number_of_bars(build):
    tune = build('"C6"c3|"G7"d3|"C6"c3|]', meter="3/4")
    plan = phrase_plan(tune, find_form(tune), level="intermediate")
    assert [phrase.numbers for phrase in plan] == [(1, 2), (3,)]
    assert all(onset + length <= 6 for p in plan for onset, length in p.rhythm.notes)


def test_an_unknown_level_is_a_value_error(aaba):
    with pytest.raises(ValueError, match="beginner, intermediate, advanced"):
        phrase_plan(aaba, find_form(aaba), level="expert")
