"""Names of blues, and of what stands before and after a form. Source: common practice."""

from __future__ import annotations

import pytest

from kit.form.facts import form_facts
from kit.form.find import find_form
from kit.form.names import form_name

TWELVE = {
    "plain": "C7|C7|C7|C7|F7|F7|C7|C7|G7|F7|C7|C7",
    "triads": "C|C|C|C|F|F|C|C|G|G|C|C",
    "quick change and turnaround": "C7|F7|C7|C7|F7|F7|C7|A7|Dm7|G7|C7 A7|Dm7 G7",
    "diminished in bar 6": "C7|F7|C7|Gm7 C7|F7|Fdim7|C7|A7|Dm7|G7|C7|G7",
    "minor": "Cm7|Cm7|Cm7|Cm7|Fm7|Fm7|Cm7|Cm7|Ab7|G7|Cm7|G7",
    "descending ii–Vs": "Cmaj7|Bm7b5 E7|Am7 D7|Gm7 C7|F7|Fm7 Bb7|Em7 A7|Ebm7 Ab7|"
    "Dm7|G7|C7 A7|Dm7 G7",
}
SIXTEEN = {
    "first line twice": "C7|C7|C7|C7|C7|C7|C7|C7|F7|F7|C7|C7|G7|F7|C7|C7",
    "second line twice": "C7|C7|C7|C7|F7|F7|C7|C7|F7|F7|C7|C7|G7|F7|C7|C7",
    "last line twice": "C7|C7|C7|C7|F7|F7|C7|C7|G7|F7|C7|C7|G7|F7|C7|C7",
    "V–IV three times": "C7|C7|C7|C7|F7|F7|C7|C7|G7|F7|G7|F7|G7|F7|C7|C7",
}
TWENTY_FOUR = "C7|" * 8 + "F7|" * 4 + "C7|" * 4 + "G7|G7|F7|F7|" + "C7|C7|C7|C7"


@pytest.mark.parametrize("changes", TWELVE.values(), ids=TWELVE)
@pytest.mark.parametrize("key", ["C", "G"])
def test_a_12_bar_blues_is_named_whatever_its_substitutions(chart, changes, key):
    """The key signature is no help: many a blues is printed without one."""
    tune = chart(changes, key)
    assert form_name(tune, find_form(tune)) == "12-bar blues"


@pytest.mark.parametrize("changes", SIXTEEN.values(), ids=SIXTEEN)
def test_a_16_bar_blues_is_named_and_told_in_four_lines(chart, changes):
    tune = chart(changes)
    facts = form_facts(tune, find_form(tune))
    assert facts.name == "16-bar blues"
    assert facts.sentences[0] == "The form is a 16-bar blues: four lines of four bars."


def test_a_24_bar_blues_has_its_stations_where_they_are(chart):
    tune = chart(TWENTY_FOUR)
    facts = form_facts(tune, find_form(tune))
    assert facts.name == "24-bar blues"
    assert facts.sentences[0] == "The form is a 24-bar blues: three lines of eight bars."
    (stations,) = [one for one in facts.sentences if "go to the fourth" in one]
    assert "F7, in bar 9, are home again in bar 13" in stations
    assert "leads home from bar 17" in stations


def test_two_choruses_with_an_intro_and_a_tag_are_told_apart(chart):
    intro, tag = "Dm7|G7|Dm7|G7", "F7 G7|C7"
    tune = chart("|".join([intro, TWELVE["plain"], TWELVE["plain"], tag]))
    form = find_form(tune)
    assert [section.bar_count for section in form.sections] == [4, 12, 12, 2]
    assert form.labels == ("Intro", "A", "Coda")
    assert form_name(tune, form) == (
        "12-bar blues, 2 choruses, with an intro of 4 bars and a coda of 2 bars"
    )


@pytest.mark.parametrize(
    "changes",
    [
        "C|C|G|G|C|C|F|F|C|G|C|C",
        "C|C|C|C|G|G|C|C|F|G|C|C",
        "C|C|C|C|C|C|C|C|F|F|C|C|G|G|C|C",
        "C|Am|Dm|G7|C|Am|Dm|G7|F|G7|C|C",
    ],
)
def test_other_changes_are_no_blues(chart, changes):
    tune = chart(changes)
    assert "blues" not in form_name(tune, find_form(tune))


def test_an_intro_and_a_coda_are_no_part_of_the_forms_name(aaba, marked):
    from dataclasses import replace

    bars = (*aaba.bars[20:24], *aaba.bars, *aaba.bars[30:32])
    long = replace(
        aaba, bars=tuple(replace(bar, number=k) for k, bar in enumerate(bars, start=1))
    )
    framed = marked(long, {0: "Intro", 4: "A", 12: "A", 20: "B", 28: "A", 36: "Coda"})
    assert form_name(framed, find_form(framed)) == (
        "32-bar song form, AABA, with an intro of 4 bars and a coda of 2 bars"
    )


def test_a_last_a_that_is_lifted_is_told_as_one(aaba):
    from dataclasses import replace

    from kit.tune.model import transposed
    from kit.tune.pitch import Interval

    up = transposed(replace(aaba, bars=aaba.bars[24:]), Interval.parse("m2")).bars
    lifted = replace(aaba, bars=aaba.bars[:24] + up)
    form = find_form(lifted)
    assert form.pattern == "AABA"
    sentences = form_facts(lifted, form).sentences
    assert any("The third A is the first moved a half step up" in one for one in sentences)
