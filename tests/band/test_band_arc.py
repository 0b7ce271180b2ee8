"""The band's way through a performance: choruses, fills, stop-time, fours, double time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest

from kit.band.chart import ChartBar, read_chart
from kit.band.events import NoteEvent, PartNote, Performance
from kit.band.feel import feel_names, load_feel
from kit.band.perform import perform, seed_of
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, Tag, plan_route
from kit.tune.model import Tune

Make = Callable[..., Tune]
SOLO = Passage("solo")
TEMPO = 120.0


def planned(tune: Tune, *passages: Passage) -> Route:
    form = Form((Section("A", 0, 3), Section("B", 4, 7)))
    return plan_route(passages, form=form, head=tune, order=range(8), count_in_bars=1)


def chart_of(
    tune: Tune, *passages: Passage, melody: list[PartNote] | None = None
) -> tuple[ChartBar, ...]:
    route = planned(tune, *passages)
    return read_chart(tune, route, feel=load_feel("medium-swing"), melody=melody or ())


def played(
    tune: Tune, route: Route, feel: str = "medium-swing", **options: object
) -> Performance:
    return perform(
        tune, route, feel=feel, tempo_qpm=TEMPO, soloist=Soloist(), humanise=False,
        **options,
    )  # fmt: skip


def inside(show: Performance, player: str, route: Route, place: int) -> list[NoteEvent]:
    """Give what a player begins in a bar."""
    bar = route.bars[place]
    start, end = (route.second_at(at, TEMPO) - 1e-6 for at in (bar.start, bar.end))
    return [event for event in show.of(player) if start <= event.start_s < end]


def test_intensity_rises_from_solo_to_solo_and_the_tag_is_full(tune: Tune) -> None:
    head = Passage("head")
    chart = chart_of(tune, head, SOLO, SOLO, SOLO, replace(head, tag=Tag(2, 3)))
    levels = [mean(bar.fullness for bar in chart[at : at + 8]) for at in range(0, 40, 8)]
    first, *solos, last = levels
    assert all(a + 0.05 < b for a, b in pairwise([first, *solos]))
    assert first < last < solos[-1]
    assert all(bar.fullness == 1.0 for bar in chart[40:])


def test_what_is_played_rises_with_the_choruses(tune: Tune) -> None:
    """Strokes and levels of chords and drums, over six seeds."""
    route = planned(tune, Passage("head"), SOLO, SOLO, SOLO, Passage("head"))
    strokes, levels = [], []
    shows = [played(tune, route, seed=seed) for seed in range(6)]
    for first in (0, 8, 24):
        bars = range(first, first + 8)
        chords = [e for s in shows for i in bars for e in inside(s, "chords", route, i)]
        drums = [e for s in shows for i in bars for e in inside(s, "drums", route, i)]
        strokes.append(len({(id(e), e.start_s) for e in chords}))
        levels.append(mean(e.velocity for e in [*chords, *drums]))
    assert strokes == sorted(strokes)
    assert all(a + 1 < b for a, b in pairwise(levels))


def test_the_band_follows_a_written_solo_that_is_dense(tune: Tune) -> None:
    route = planned(tune, Passage("head"), SOLO, Passage("head"))
    bars = tuple(replace(bar, melody=True) for bar in route.bars)
    route = replace(route, bars=bars)
    feel = load_feel("medium-swing")

    def level(step: Fraction) -> float:
        first = route.bars[8].start
        notes = [PartNote(first + i * step, step, 60, 80) for i in range(int(32 / step))]
        chart = read_chart(tune, route, feel=feel, melody=notes)
        return mean(bar.fullness for bar in chart[8:16])

    sparse, usual, dense = (level(Fraction(n)) for n in ("2", "2/3", "1/4"))
    assert sparse + 0.05 < usual + 0.05 < dense + 0.1
    assert sparse < usual < dense


def test_a_vamp_gets_lighter_each_time(tune: Tune) -> None:
    chart = chart_of(tune, Passage("head", tag=Tag(2, 4, is_vamp=True)))
    levels = [chart[place].fullness for place in (8, 10, 12)]
    assert levels == sorted(levels, reverse=True)
    assert len(set(levels)) == 3


@pytest.mark.parametrize("feel", [n for n in feel_names() if load_feel(n).fills["small"]])
def test_no_two_fills_in_a_row_are_the_same(make_tune: Make, feel: str) -> None:
    tune = make_tune("6/8" if "6/8" in load_feel(feel).tempi else "4/4")
    tune = make_tune("3/4") if "4/4" not in load_feel(feel).tempi and (
        "3/4" in load_feel(feel).tempi
    ) else tune  # fmt: skip
    route = planned(tune, *[Passage("head"), SOLO] * 4, Passage("head"))
    show = played(tune, route, feel)
    keeps = load_feel(feel).keeps
    ends = []
    for place in range(3, len(route.bars) - 2, 4):
        bar = route.bars[place]
        half = route.second_at(bar.start + bar.length / 2, TEMPO) - 1e-6
        start = route.second_at(bar.start, TEMPO)
        hits = {
            (round(e.start_s - start, 3), e.midi)
            for e in inside(show, "drums", route, place)
            if e.start_s >= half
        }
        ends.append((place % 8, hits))
    assert keeps is not None
    assert all(one != two for (_, one), (_, two) in pairwise(ends)), feel


def test_stop_time_is_the_first_beat_and_nothing_else(tune: Tune) -> None:
    route = planned(tune, Passage("head"), replace(SOLO, band="stop-time"), SOLO)
    show = played(tune, route)
    for place in range(8, 16):
        start = route.second_at(route.bars[place].start, TEMPO)
        for player in ("bass", "chords", "drums"):
            events = inside(show, player, route, place)
            assert events, (player, place)
            assert {round(e.start_s - start, 6) for e in events} == {0.0}
            assert max(e.end_s for e in events) < start + 0.5


def test_a_break_leaves_the_soloist_alone_on_the_same_clock(tune: Tune) -> None:
    full = planned(tune, Passage("head"), SOLO, Passage("head"))
    route = planned(tune, Passage("head", break_bars=2), SOLO, Passage("head"))
    show, other = played(tune, route), played(tune, full)
    for player in ("bass", "chords", "drums"):
        assert not inside(show, player, route, 7)
        assert inside(show, player, route, 8)
    assert inside(show, "click", route, 7), "the click goes on"
    assert show.seconds == other.seconds
    assert show.of("melody") == other.of("melody")
    assert show.of("click") == other.of("click")


def test_in_traded_fours_the_drummer_is_alone(tune: Tune) -> None:
    route = planned(tune, Passage("head"), replace(SOLO, band="trading-fours"), SOLO)
    show = played(tune, route)
    for place in range(12, 16):
        assert not inside(show, "bass", route, place)
        assert not inside(show, "chords", route, place)
        assert len(inside(show, "drums", route, place)) >= 4
    bars = [
        {
            (round(e.start_s - route.second_at(route.bars[p].start, TEMPO), 3), e.midi)
            for e in inside(show, "drums", route, p)
        }
        for p in range(12, 16)
    ]
    assert all(one != two for one, two in pairwise(bars))


@pytest.mark.parametrize("feel", ["hymn", "tango"])
def test_a_feel_without_drums_leaves_its_fours_silent(tune: Tune, feel: str) -> None:
    route = planned(tune, Passage("head"), replace(SOLO, band="trading-fours"), SOLO)
    assert not played(tune, route, feel).of("drums")


def test_double_time_walks_twice_as_fast_and_keeps_chords_and_clock(tune: Tune) -> None:
    route = planned(tune, Passage("head"), SOLO, Passage("head"))
    fast = planned(
        tune, Passage("head"), replace(SOLO, band="double-time"), Passage("head")
    )
    usual, doubled = played(tune, route), played(tune, fast)
    for place in range(9, 15):
        assert len(inside(usual, "bass", route, place)) >= 4
        assert len(inside(doubled, "bass", fast, place)) >= 8
        ride = [e for e in inside(doubled, "drums", fast, place) if e.midi == 51]
        assert len(ride) >= 8
    assert doubled.seconds == usual.seconds
    one, two = ([(e.start_s, e.midi) for e in s.of("click")] for s in (usual, doubled))
    assert one == two, "double time is a feel: the beat stays"
    feel = load_feel("ballad")
    charts = [read_chart(tune, r, feel=feel) for r in (route, fast)]
    assert [b.changes for b in charts[0]] == [b.changes for b in charts[1]]


def test_a_seed_is_the_tunes_own_whatever_its_key(
    make_tune: Make, transpose_tune: Callable[[Tune, int], Tune]
) -> None:
    tune = make_tune()
    assert seed_of(tune) == seed_of(transpose_tune(tune, 5))
    assert seed_of(tune) == seed_of(make_tune())
    names = [replace(tune, title=f"Tune {n}") for n in range(50)]
    assert len({seed_of(one) for one in names}) == 50
    changed = replace(tune.bars[2], notes=tune.bars[3].notes)
    assert seed_of(replace(tune, bars=(*tune.bars[:2], changed, *tune.bars[3:]))) == (
        seed_of(tune)
    )


def test_another_seed_is_another_accompaniment_and_the_same_one_the_same(
    tune: Tune,
) -> None:
    route = planned(tune, Passage("head"), SOLO, Passage("head"))
    first, again, other = (played(tune, route, seed=n) for n in (1, 1, 2))
    assert first == again
    for player in ("bass", "chords"):
        assert first.of(player) != other.of(player)
