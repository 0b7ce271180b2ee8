from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise

import pytest

from kit.band._bass import play_bass
from kit.band._pattern_bass import BASS_RANGE, bass_class, nearest
from kit.band.chart import read_chart
from kit.band.feel import feel_names, load_feel
from kit.route.plan import Route
from kit.tune.model import Tune

Make = Callable[..., Tune]
MakeRoute = Callable[..., Route]


@pytest.mark.parametrize("name", feel_names())
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "5/4"])
def test_every_change_has_its_root_on_it(
    make_tune: Make, make_route: MakeRoute, name: str, meter: str
) -> None:
    tune = make_tune(meter)
    chart = read_chart(tune, make_route(tune), feel=load_feel(name))
    notes = play_bass(chart, rng=random.Random(1))
    is_ahead = any(
        n.early for bars in load_feel(name).bass.values() for b in bars for n in b
    )
    for bar in chart[:-1]:
        for change in bar.changes:
            if change.is_new:
                assert change.symbol is not None
                heard = [n for n in notes if n.start <= change.start < n.end]
                assert heard[-1].midi % 12 == bass_class(change.symbol)
                early = change.start - heard[-1].start
                # A tumbao has it a beat before, and holds it.
                assert early <= bar.pulse if is_ahead else early == 0


@pytest.mark.parametrize("seed", range(8))
def test_a_walking_line_is_smooth_and_in_range(
    make_tune: Make, make_route: MakeRoute, seed: int
) -> None:
    tune = make_tune("4/4", 3)
    chart = read_chart(tune, make_route(tune), feel=load_feel("medium-swing"))
    line = [note.midi for note in play_bass(chart, rng=random.Random(seed))]
    moves = [abs(b - a) for a, b in pairwise(line)]
    assert all(BASS_RANGE[0] <= midi <= BASS_RANGE[1] for midi in line)
    assert max(moves) <= 12
    assert sum(moves) / len(moves) < 3.5
    assert sum(move == 0 for move in moves) < 0.12 * len(moves)


def test_walking_walks_four_to_the_bar(make_tune: Make, make_route: MakeRoute) -> None:
    tune = make_tune()
    chart = read_chart(tune, make_route(tune), feel=load_feel("medium-swing"))
    on_beats = [
        n for n in play_bass(chart, rng=random.Random(0)) if n.start.denominator == 1
    ]
    assert len(on_beats) == 4 * (len(chart) - 1)


def test_choruses_are_not_alike(make_tune: Make, make_route: MakeRoute) -> None:
    tune = make_tune("4/4", 2)
    chart = read_chart(tune, make_route(tune, solo=False), feel=load_feel("medium-swing"))
    notes = play_bass(chart, rng=random.Random(2))
    length = sum(bar.length for bar in chart[:8])
    first = [n.midi for n in notes if n.start < chart[0].start + length]
    second = [n.midi for n in notes if chart[8].start <= n.start < chart[8].start + length]
    assert first != second


def test_nearest_stays_on_the_instrument() -> None:
    for pitch_class in range(12):
        for around in range(10, 70):
            found = nearest(pitch_class, around)
            assert found % 12 == pitch_class
            assert BASS_RANGE[0] <= found <= BASS_RANGE[1]
