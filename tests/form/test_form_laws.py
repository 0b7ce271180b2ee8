"""What must hold of a found form, whatever the tune."""

from __future__ import annotations

import sys
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from types import FrameType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.form._likeness import bar_likeness
from kit.form._search import found_form
from kit.tune.model import Bar, Note, Tune, transposed
from kit.tune.pitch import Interval, Key, Pitch

C = Key.parse("C major")
STEPS = ("C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5", "D5")
RHYTHMS = ((4,), (2, 2), (1, 1, 2), (1, 1, 1, 1), (3, 1))


def bar(number: int, rhythm: tuple[int, ...], steps: tuple[int, ...]) -> Bar:
    notes, onset = [], Fraction(0)
    for length, step in zip(rhythm, steps, strict=False):
        notes.append(Note(onset, Fraction(length), Pitch.parse(STEPS[step])))
        onset += length
    return Bar(number, tuple(notes), key=C)


def tune(bars: list[Bar]) -> Tune:
    return Tune("", tuple(replace(one, number=k) for k, one in enumerate(bars, start=1)))


def rests(count: int) -> Tune:
    silent = Bar(1, (Note(Fraction(0), Fraction(4), None),), key=C)
    return tune([silent] * count)


bars = st.builds(
    bar,
    st.just(1),
    st.sampled_from(RHYTHMS),
    st.tuples(*[st.integers(0, len(STEPS) - 1)] * 4),
)
tunes = st.lists(bars, min_size=1, max_size=40).map(tune)


@given(tunes)
@settings(max_examples=40, deadline=None)
def test_sections_cover_every_bar_once_and_in_order(music):
    sections = found_form(music).sections
    assert sections[0].first == 0
    assert sections[-1].last == len(music.bars) - 1
    assert all(one.last + 1 == two.first for one, two in pairwise(sections))


@given(tunes, st.sampled_from(["m2", "M2", "P4", "P5", "M6"]))
@settings(max_examples=25, deadline=None)
def test_a_transposed_tune_has_the_same_form(music, interval):
    moved = transposed(music, Interval.parse(interval))
    assert found_form(moved) == found_form(music)


def test_a_tune_played_twice_has_its_form_twice(aaba):
    once = found_form(aaba)
    twice = found_form(tune([*aaba.bars, *aaba.bars]))
    assert twice.pattern == 2 * once.pattern


@pytest.mark.parametrize("count", [1, 2, 3, 5, 7, 17])
def test_a_short_tune_of_one_idea_has_few_sections(count):
    music = tune(
        [bar(1, (1, 1, 2), (k % 9, (k * 4) % 9, (k * 7) % 9)) for k in range(count)]
    )
    assert 1 <= len(found_form(music).sections) <= 3


@pytest.mark.parametrize("count", [1, 2, 8, 32, 400])
def test_silence_is_one_section_over_and_over(count):
    form = found_form(rests(count))
    assert form.labels == ("A",)


@pytest.mark.parametrize("count", [32, 400])
def test_bars_that_are_all_alike_are_one_section_over_and_over(count):
    form = found_form(tune([bar(1, (1, 1, 2), (0, 2, 4))] * count))
    assert form.labels == ("A",)


def comparisons(music: Tune) -> int:
    """Count how often finding the form compares two bars."""
    calls = 0

    def count(frame: FrameType, event: str, arg: object) -> None:
        nonlocal calls
        calls += event == "call" and frame.f_code is bar_likeness.__code__

    sys.setprofile(count)
    try:
        found_form(music)
    finally:
        sys.setprofile(None)
    return calls


def test_four_hundred_bars_without_a_return_end_in_time():
    """No pair of bars is compared twice; calls are counted, since seconds would waver."""
    steps = [(k % 9, k * 5 % 9, k * k % 9, k // 9 % 9) for k in range(400)]
    music = tune([bar(1, RHYTHMS[k * k % 5], row) for k, row in enumerate(steps)])
    assert found_form(music).bar_count == 400
    assert comparisons(music) <= 400 * 400 / 2
