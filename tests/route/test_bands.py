"""Who plays in which bar, and that no bar moves for it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.errors import RouteError
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, Tag, plan_route
from kit.route.timing import timing_map
from kit.tune.model import Bar, Meter, Note, Tune


def song(bars: int = 32, meter: str = "4/4") -> Tune:
    parsed = Meter.parse(meter)
    rest = Note(Fraction(0), parsed.bar_length, None)
    return Tune("Song", tuple(Bar(n + 1, (rest,), meter=parsed) for n in range(bars)))


def planned(*passages: Passage, bars: int = 32, meter: str = "4/4") -> Route:
    tune = song(bars, meter)
    half = bars // 2
    form = Form((Section("A", 0, half - 1), Section("B", half, bars - 1)))
    return plan_route(passages, form=form, head=tune, order=range(bars))


def bands(route: Route) -> list[str]:
    return [bar.band for bar in route.bars]


def test_fours_are_traded_in_turn() -> None:
    route = planned(Passage("solo", band="trading-fours"))
    assert bands(route) == (["full"] * 4 + ["drums"] * 4) * 4


def test_fours_go_on_from_one_blues_chorus_into_the_next() -> None:
    traded = Passage("solo", band="trading-fours")
    route = planned(traded, traded, bars=12)
    assert bands(route) == (["full"] * 4 + ["drums"] * 4) * 3
    between = planned(traded, Passage("solo"), traded, bars=12)
    assert bands(between)[-12:-8] == ["full"] * 4, "another passage begins anew"


def test_a_break_is_struck_once_and_then_silent() -> None:
    route = planned(Passage("head", break_bars=4), Passage("solo"))
    assert (
        bands(route)[26:34] == ["full"] * 2 + ["stop-time"] + ["silent"] * 3 + ["full"] * 2
    )


@pytest.mark.parametrize("band", ["stop-time", "double-time", "trading-fours"])
def test_no_bar_and_no_second_depends_on_the_band(band: str) -> None:
    plain = planned(Passage("head"), Passage("solo", "B", break_bars=2), Passage("head"))
    other = planned(Passage("head"), Passage("solo", "B", None, band, 2), Passage("head"))
    assert [replace(bar, band="full") for bar in other.bars] == [
        replace(bar, band="full") for bar in plain.bars
    ]
    assert timing_map(other, 140) == timing_map(plain, 140)
    assert set(bands(other)) > {"full"}


def test_a_vamp_leaves_the_melody_out_of_its_repeats() -> None:
    route = planned(Passage("head", tag=Tag(2, 3, is_vamp=True)))
    assert [bar.melody for bar in route.bars[-6:]] == [True] * 2 + [False] * 4
    assert all(bar.melody for bar in planned(Passage("head", tag=Tag(2, 3))).bars)


@pytest.mark.parametrize(
    ("passage", "meter", "match"),
    [
        (Passage("solo", "A", band="trading-fours"), "4/4", "too short to trade"),
        (Passage("head", "A", break_bars=7), "4/4", "break of 7 bars"),
        (Passage("head", band="double-time"), "6/8", "bar 1 is in 6/8"),
        (Passage("head", band="double-time"), "7/8", "bar 1 is in 7/8"),
    ],
)
def test_what_the_band_cannot_play_is_refused(
    passage: Passage, meter: str, match: str
) -> None:
    with pytest.raises(RouteError, match=match):
        planned(passage, bars=12, meter=meter)
