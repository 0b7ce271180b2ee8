"""The practice plan follows from the facts."""

from __future__ import annotations

import pytest

from kit.form.facts import form_facts
from kit.form.find import find_form
from kit.levels.difficulty import difficulty_by_bar
from kit.solo.practice import practice_plan


@pytest.fixture
def plan(aaba):
    return practice_plan(
        form_facts(aaba, find_form(aaba)),
        tempo_qpm=180,
        hardest=difficulty_by_bar(aaba, 180),
        solo_scales=["C minor pentatonic", "E♭ major pentatonic", "C minor pentatonic"],
        level="advanced",
    )


def test_the_section_worth_most_is_learnt_first(plan):
    learn = [step for step in plan if step.title.startswith("Learn")]
    assert [step.title for step in learn] == ["Learn A by heart", "Learn B by heart"]
    assert "24 of the 32 bars: three quarters of the tune" in learn[0].text
    assert "Mind bars 16 and 32" in learn[0].text


def test_tempos_are_shares_of_the_goal(plan):
    heads = [step for step in plan if step.title.startswith("Head")]
    assert [step.tempo_qpm for step in heads] == [108, 144, 180]


def test_loops_are_hard_bars_each_once(plan, aaba):
    loops = [step for step in plan if step.title.startswith("Loop")]
    assert 1 <= len(loops) <= 3
    bars = {bar.number: bar for bar in difficulty_by_bar(aaba, 180)}
    middle = sorted(bar.overall for bar in bars.values())[len(bars) // 2]
    for step in loops:
        first, last = step.bars
        assert first <= last
        assert max(bars[n].overall for n in range(first, last + 1) if n in bars) > middle
    assert len({tuple(aaba.bars[s.bars[1] - 1].notes) for s in loops}) == len(loops)


def test_how_a_loop_is_practised_is_said_once(plan):
    first, *others = [step.text for step in plan if step.title.startswith("Loop")]
    assert "after five clean times in a row add 5 to the tempo, up to 180" in first
    assert all(text.endswith("In the same way, from 108 to 180.") for text in others)


def test_scales_are_named_once(plan):
    solo = next(step for step in plan if step.title == "Solo")
    assert "(C minor pentatonic and E♭ major pentatonic)" in solo.text


def test_care_is_said_once_and_sends_on_to_those_who_know(plan):
    care = [step for step in plan if "hurts" in step.text]
    assert len(care) == 1
    assert "teacher" in care[0].text
    assert "physician" in care[0].text


def test_without_a_solo_there_is_no_solo_step(aaba):
    facts = form_facts(aaba, find_form(aaba))
    titles = [step.title for step in practice_plan(facts, tempo_qpm=120)]
    assert "Solo" not in titles
    assert not any(title.startswith("Loop") for title in titles)


def test_a_tempo_of_zero_is_a_programmers_mistake(aaba):
    with pytest.raises(ValueError, match="above zero"):
        practice_plan(form_facts(aaba, find_form(aaba)), tempo_qpm=0)
