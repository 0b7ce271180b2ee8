from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.band._timing import Drift, Timeline, TimelineBar
from kit.band.swing import melody_delay_s, melody_share, ride_ratio, swing_share, warp

TEMPI = st.floats(20, 400)


@given(TEMPI, TEMPI)
def test_ride_ratio_never_rises_with_tempo(one: float, other: float) -> None:
    slow, fast = sorted((one, other))
    assert ride_ratio(slow) >= ride_ratio(fast) >= 1.0


@given(TEMPI)
def test_the_soloist_swings_less_than_the_cymbal(tempo: float) -> None:
    share = swing_share(ride_ratio(tempo))
    late = melody_delay_s(tempo) * tempo / 60
    mine = melody_share(share, tempo)
    ratio = (mine - late) / (1 - mine + late)
    assert ratio <= ride_ratio(tempo) + 1e-9
    assert ratio <= 2.4 + 1e-9


@given(
    st.fractions(0, 1, max_denominator=8),
    st.fractions(0, 1, max_denominator=8),
    st.floats(0.5, 0.78),
)
def test_swing_keeps_the_order_of_binary_places(
    a: Fraction, b: Fraction, share: float
) -> None:
    binary = [f for f in sorted((a, b)) if f.denominator in (1, 2, 4, 8)]
    assert [warp(f, share) for f in binary] == sorted(warp(f, share) for f in binary)


def test_triplets_stay_where_they_are_written() -> None:
    assert warp(Fraction(2, 3), 0.75) == float(Fraction(2, 3))


def test_beats_fall_on_the_map_whatever_the_swing() -> None:
    line = Timeline([TimelineBar(Fraction(8), Fraction(1), 0.7, 0.65)], 120)
    assert [line.seconds(Fraction(8 + beat)) for beat in range(4)] == [4.0, 4.5, 5.0, 5.5]


@given(st.integers(0, 1000))
def test_drift_is_bounded(seed: int) -> None:
    import random

    drift = Drift(0.004, random.Random(seed))
    assert max(abs(drift.next_s()) for _ in range(500)) <= 0.01


@pytest.mark.parametrize("tempo", [0, -1, float("nan")])
def test_no_swing_without_a_tempo(tempo: float) -> None:
    with pytest.raises(ValueError, match="tempo"):
        ride_ratio(tempo)
