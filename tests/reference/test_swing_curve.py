"""Swing against Friberg & Sundström, Music Perception 19 (2002), pp. 333-349.

Used from the abstract: the cymbal's ratio reaches 3.5:1 at slow tempi and 1:1 at fast
ones; the short note is about 100 ms at medium and fast tempi; soloists swing less, their
off-beats meet the cymbal's and their downbeats come late.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from kit.band.feel import load_feel
from kit.band.perform import perform, swing_ratio
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, plan_route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Note, Tune
from kit.tune.pitch import NoteName, Pitch

EIGHTH = Fraction(1, 2)


def eighths() -> tuple[Tune, Route]:
    notes = tuple(Note(EIGHTH * i, EIGHTH, Pitch.parse("C5")) for i in range(8))
    chord = (ChordEvent(Fraction(0), ChordSymbol(NoteName("C"), "major-sixth")),)
    sheet = Tune("Eighths", tuple(Bar(n, notes, chord) for n in range(1, 17)))
    form = Form((Section("A", 0, 15),))
    return sheet, plan_route([Passage("head")], form=form, head=sheet, order=range(16))


def measured(tempo: float, player: str, key: int) -> float:
    """Mean ratio of long to short eighth in what a player really plays."""
    sheet, route = eighths()
    show = perform(
        sheet, route, tempo_qpm=tempo, soloist=Soloist(65), feel="medium-swing", seed=4
    )
    beat = 60 / tempo
    starts = [e.start_s for e in show.of(player) if e.midi == key]
    longs, shorts = [], []
    for a, b, c in zip(starts, starts[1:], starts[2:], strict=False):
        # A beat with its off-beat and the next beat.
        nearest = round(a / beat) * beat
        if abs(a - nearest) < 0.15 * beat and abs(c - a - beat) < 0.12 * beat:
            longs.append(b - a)
            shorts.append(c - b)
    assert len(longs) >= 10
    return sum(longs) / sum(shorts)


@pytest.mark.parametrize("tempo", [80, 120, 160, 200, 240])
def test_the_ride_cymbal_follows_the_published_curve(tempo: float) -> None:
    """Tolerance: 8 % of the ratio, for the drummer's own small errors."""
    published = min(3.5, (60 / tempo - 0.1) / 0.1)
    assert measured(tempo, "drums", 51) == pytest.approx(published, rel=0.08)


@pytest.mark.parametrize("tempo", [150, 180, 200, 240])
def test_the_short_eighth_is_a_tenth_of_a_second(tempo: float) -> None:
    ratio = swing_ratio(load_feel("medium-swing"), tempo)
    assert 60 / tempo / (1 + ratio) == pytest.approx(0.1, abs=0.002)


@pytest.mark.parametrize("tempo", [80, 120, 160, 200])
def test_the_soloist_swings_less_than_the_cymbal(tempo: float) -> None:
    assert measured(tempo, "melody", 72) < measured(tempo, "drums", 51)


def test_even_eighths_are_reached_at_three_hundred() -> None:
    assert swing_ratio(load_feel("fast-swing"), 300) == 1.0
