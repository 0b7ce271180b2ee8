"""Intro and ritardando: which bars come first, and one map for everything that slows."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.form.sections import Form, Section
from kit.route.plan import Passage, Tag, plan_route
from kit.route.tempo import LAST_SHARE, TempoMap, ritardando
from kit.route.timing import chapters_vtt, timing_map
from kit.tune.model import Bar, Note, Tune

FORM = Form((Section("A", 0, 7), Section("B", 8, 15)))
SONG = Tune(
    "Song", tuple(Bar(n, (Note(Fraction(0), Fraction(4), None),)) for n in range(1, 17))
)


def planned(**options):
    passages = options.pop("passages", [Passage("head", tag=Tag(2, 3))])
    return plan_route(passages, form=FORM, head=SONG, order=range(16), **options)


@pytest.mark.parametrize(
    ("intro", "numbers"),
    [
        ("last-four-bars", [13, 14, 15, 16]),
        ("turnaround", [15, 16, 15, 16]),
        ("vamp", [1, 2, 1, 2]),
    ],
)
def test_an_intro_plays_bars_of_the_form_without_the_melody(intro, numbers):
    route = planned(intro=intro)
    first = route.bars[:4]
    assert [bar.number for bar in first] == numbers
    assert {bar.kind for bar in first} == {"intro"}
    assert not any(bar.melody for bar in first)
    assert route.bars[4].number == 1
    assert route.bars[4].time_through == 1, "the intro is no time through"
    assert route.bars[4].start == route.music_start + 16


def test_the_intro_is_a_chapter_and_in_the_map():
    route = planned(intro="turnaround")
    assert "Intro B, bar 15" in chapters_vtt(route, 120)
    assert timing_map(route, 120)["bars"][0]["kind"] == "intro"


def test_an_unknown_intro_is_refused():
    with pytest.raises(ValueError, match="vamp"):
        planned(intro="fanfare")


def test_a_ritardando_fills_the_two_bars_before_the_last():
    route, even = planned(slows_down=True), planned()
    starts, evenly = route.bar_starts(120), even.bar_starts(120)
    assert starts[:-2] == evenly[:-2]
    lengths = [b - a for a, b in pairwise(starts)]
    assert lengths[-3] == 2.0
    assert 2.0 < lengths[-2] < lengths[-1] < 2.0 / LAST_SHARE
    last = route.seconds(120) - (starts[-1] - route.second_at(route.music_start, 120))
    assert last == pytest.approx(2.0 / LAST_SHARE)


def test_timing_map_and_chapters_follow_the_ritardando():
    route = planned(slows_down=True)
    bars = timing_map(route, 120)["bars"]
    assert [bar["start"] for bar in bars] == pytest.approx(route.bar_starts(120))
    end = bars[-1]["end"]
    stamp = f"{int(end // 60):02}:{end % 60:06.3f}"
    assert chapters_vtt(route, 120).rstrip().splitlines()[-2].endswith(stamp)


@given(
    st.fractions(0, 200, max_denominator=48),
    st.floats(20, 400),
    st.integers(0, 120),
    st.integers(1, 16),
    st.booleans(),
)
def test_seconds_and_quarters_are_inverse_and_scale_with_the_tempo(
    place, tempo, start, length, begins_in_silence
):
    slowing = ritardando(Fraction(start), Fraction(start + length))
    if begins_in_silence:
        slowing = slowing.after_silence(tempo)
        assert slowing.seconds(0, tempo) == pytest.approx(0.25)
    seconds = slowing.seconds(place, tempo)
    assert slowing.quarters(seconds, tempo) == pytest.approx(float(place), abs=1e-6)
    # A page at 70 % shows the same bars at seconds drawn out by 100 / 70.
    assert slowing.seconds(place, 0.7 * tempo) == pytest.approx(seconds / 0.7)
    assert slowing.seconds(place + 1, tempo) > seconds


def test_a_steady_map_is_plain_arithmetic():
    assert TempoMap().seconds(Fraction(7), 120) == 3.5
    assert TempoMap().quarters(3.5, 120) == 7.0


@pytest.mark.parametrize(
    "steps", [((Fraction(4), 0.5), (Fraction(4), 0.4)), ((Fraction(1), 0.0),)]
)
def test_a_map_that_cannot_be_is_refused(steps):
    with pytest.raises(ValueError, match="tempo"):
        TempoMap(steps)


def test_a_route_of_one_bar_has_no_room_to_slow_down():
    one = Form((Section("A", 0, 0),))
    route = plan_route(
        [Passage("head")], form=one, head=SONG, order=range(1), slows_down=True
    )
    assert route.tempo_map.steps == ()
