"""Phrases that are longer than a breath are cut where one would breathe."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from kit.solo._breath import with_breaths
from kit.solo._develop import Stroke
from kit.solo._limits import SHORTEST_BREATH_S, limits_of
from kit.tune.model import Meter

LENGTHS = st.lists(st.sampled_from(["1/2", "1", "3/2", "2", "4"]), min_size=1, max_size=24)


@given(
    lengths=LENGTHS,
    tempo=st.integers(40, 240),
    level=st.sampled_from(["beginner", "intermediate", "advanced"]),
)
def test_nobody_plays_longer_than_a_breath(lengths, tempo, level):
    limits = limits_of(level, tempo_qpm=tempo)
    now, strokes = Fraction(0), []
    for length in map(Fraction, lengths):
        strokes.append(Stroke(now, length))
        now += length
    cut = with_breaths(strokes, Meter(4, 4), limits)
    assert cut[0].onset == 0
    assert {stroke.onset for stroke in cut} <= {stroke.onset for stroke in strokes}
    begin, before = cut[0].onset, cut[0].onset
    for stroke in cut:
        assert stroke.onset >= before
        if limits.seconds(stroke.onset - before) >= SHORTEST_BREATH_S:
            begin = stroke.onset
        before = stroke.end
        assert limits.seconds(before - begin) <= limits.breath_s + 1e-6


def test_the_longest_note_is_the_one_that_is_cut():
    limits = limits_of("beginner", tempo_qpm=120)  # a breath carries seven quarters
    lengths = [1, 1, 1, 3, 1, 1, 1]
    now, strokes = Fraction(0), []
    for length in map(Fraction, lengths):
        strokes.append(Stroke(now, length))
        now += length
    cut = with_breaths(strokes, Meter(4, 4), limits)
    assert [float(stroke.duration) for stroke in cut] == [1, 1, 1, 2, 1, 1, 1]
