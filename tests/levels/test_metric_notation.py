"""Rewritten bars: full, readable, each note one symbol."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.levels._metric import split_at_beats, strength
from kit.levels.rewrite import Sound, bar_starts, sounds_of, with_sounds
from kit.levels.rewrite import silent as silent_bar
from kit.tune._validate import validate_tune
from kit.tune.model import Bar, Meter, Note, Tune
from kit.tune.notation import note_value
from kit.tune.pitch import Pitch

F = Fraction
METERS = ["2/4", "3/4", "4/4", "5/4", "6/4", "2/2", "6/8", "9/8", "12/8", "7/8", "3/8"]


def lengths(start, end, meter="4/4", *, rest=False):
    pieces = split_at_beats(F(start), F(end), Meter.parse(meter), rest=rest)
    return [float(b - a) for a, b in pieces]


@pytest.mark.parametrize(
    ("start", "end", "expected"),
    [
        (0, 4, [4]), (0, 3, [3]), (1, 3, [2]), (1, 4, [3]), (0, 1.5, [1.5]),
        (2, 3.5, [1.5]),
        (0.5, 1.5, [1]), (0.5, 2, [1.5]), (1.5, 2.5, [0.5, 0.5]), (1.5, 3, [0.5, 1]),
        (0.5, 4, [1.5, 2]), (0, 2.5, [2, 0.5]), (1, 2.5, [1, 0.5]), (0, 3.5, [2, 1.5]),
        (0.25, 0.75, [0.5]), (0.75, 1.25, [0.25, 0.25]), (3.5, 4, [0.5]),
    ],
)  # fmt: skip
def test_notes_in_four_four_show_the_middle_of_the_bar(start, end, expected):
    assert lengths(start, end) == expected


@pytest.mark.parametrize(
    ("start", "end", "meter", "expected"),
    [
        (0, 4, "4/4", [4]), (1, 4, "4/4", [1, 2]), (0, 3, "4/4", [2, 1]),
        (0.5, 2, "4/4", [0.5, 1]), (0, 3, "3/4", [3]), (1, 3, "3/4", [1, 1]),
        (0, 1.5, "6/8", [1.5]), (0.5, 3, "6/8", [0.5, 0.5, 1.5]),
    ],
)  # fmt: skip
def test_rests_show_the_beats(start, end, meter, expected):
    result = lengths(start, end, meter, rest=True)
    assert sum(result) == end - start
    assert result == expected


@pytest.mark.parametrize("meter", METERS)
def test_bar_lines_are_strongest_and_no_place_is_as_strong(meter):
    m = Meter.parse(meter)
    assert strength(F(0), m) == strength(m.bar_length, m) == 0
    eighths = [F(k, 2) for k in range(1, int(m.bar_length * 2))]
    assert all(strength(place, m) > 0 for place in eighths)


def test_a_place_off_the_grid_is_refused():
    with pytest.raises(ValueError, match="no binary division"):
        strength(F(1, 3), Meter())


@given(
    meter=st.sampled_from(METERS),
    cuts=st.sets(st.integers(1, 47), max_size=10),
    silent=st.sets(st.integers(0, 10)),
)
@settings(max_examples=150, deadline=None)
def test_any_binary_rhythm_becomes_full_bars_of_single_symbols(meter, cuts, silent):
    m = Meter.parse(meter)
    total = 2 * m.bar_length
    edges = sorted({F(0), total} | {F(c, 4) for c in cuts if F(c, 4) < total})
    blank = (Note(F(0), m.bar_length, None),)
    bars = tuple(silent_bar(Bar(k, blank, meter=m)) for k in (1, 2))
    sounds = [
        Sound(a, b - a, Pitch("C", 0, 5 if k % 2 else 4))
        for k, (a, b) in enumerate(pairwise(edges))
        if k not in silent
    ]
    written = with_sounds(Tune("", bars), sounds)
    for bar in written.bars:
        now = F(0)
        for note in bar.notes:
            assert note.onset == now
            note_value(note.duration, note.tuplet)
            now = note.end
        assert now == m.bar_length
    assert [(s.start, s.duration) for s in sounds_of(written)] == [
        (s.start, s.duration) for s in sounds
    ]


def test_a_beat_in_three_becomes_a_triplet_and_two_beats_a_wide_one(build):
    tune = build("c d e f|]")
    sounds = [Sound(F(k, 3), F(1, 3), Pitch("C", 0, 5)) for k in range(3)]
    wide = [Sound(2 + F(2 * k, 3), F(2, 3), Pitch("D", 0, 5)) for k in range(3)]
    rest_of = [s for s in sounds_of(tune) if 1 <= s.start < 2]
    notes = with_sounds(tune, sounds + rest_of + wide).bars[0].notes
    assert [n.tuplet for n in notes] == [(3, 2)] * 3 + [None] + [(3, 2)] * 3
    assert [note_value(n.duration, n.tuplet).type for n in notes] == (
        ["eighth"] * 3 + ["quarter"] + ["quarter"] * 3
    )


def test_a_beat_in_five_is_refused(build):
    tune = build("c d e f|]")
    sounds = [Sound(F(k, 5), F(1, 5), Pitch("C", 0, 5)) for k in range(5)]
    with pytest.raises(ValueError, match=r"binary|cannot be written"):
        with_sounds(tune, sounds)


def test_untouched_bars_stay_as_they_were_written(aaba):
    sounds = list(sounds_of(aaba))
    sounds[0] = replace(sounds[0], pitch=Pitch("D", 0, 5))
    changed = with_sounds(aaba, sounds)
    assert changed.bars[0] != aaba.bars[0]
    assert all(a is b for a, b in zip(changed.bars[1:], aaba.bars[1:], strict=True))
    validate_tune(changed)


def test_graces_marks_slurs_and_lyrics_stay_with_their_note(build):
    tune = build("({B}.c2 d) e|c4|]\nw:one two three four")
    sounds = list(sounds_of(tune))
    sounds[2] = replace(sounds[2], start=F(5, 2), duration=F(3, 2))
    sounds[1] = replace(sounds[1], duration=F(1, 2))
    notes = with_sounds(tune, sounds).bars[0].notes
    assert notes[0].graces
    assert "staccato" in notes[0].marks
    assert (notes[0].slurs_started, notes[1].slurs_ended) == (1, 1)
    assert [n.lyrics for n in notes if not n.is_rest][:2] == [("one",), ("two",)]


def test_overlapping_sounds_are_a_programmers_mistake(aaba):
    sounds = list(sounds_of(aaba))
    sounds[0] = replace(sounds[0], duration=F(3))
    with pytest.raises(ValueError, match="overlap"):
        with_sounds(aaba, sounds)
    with pytest.raises(ValueError, match="outside"):
        with_sounds(aaba, [Sound(bar_starts(aaba)[-1], F(1), Pitch("C", 0, 5))])
