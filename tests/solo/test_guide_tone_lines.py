"""Guide tones as a playable line."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.levels.rewrite import sounds_of
from kit.solo.guide_tones import guide_tone_line, guide_tones
from kit.tune._validate import validate_tune
from kit.tune.abc.read import read_abc
from kit.tune.pitch import Pitch

CHORDS = ["C6", "Dm7", "G7", "Cmaj7", "Am7b5", "F#dim7", "Bb7", "Ebmaj7", "Cm", "A7sus4"]


def line(text, **options):
    body = "|".join(f'"{symbol}"c4' for symbol in text.split())
    tune = read_abc(f"X:1\nT:t\nM:4/4\nL:1/4\nK:C\n{body}|]", source="t.abc")
    return guide_tone_line(tune, **options)


def names(tune):
    return " ".join(str(sound.pitch.name) for sound in sounds_of(tune))


def test_a_two_five_one_moves_by_step():
    """Textbook example (from memory): F stays, then falls to E; C falls to B and stays."""
    assert names(line("Dm7 G7 Cmaj7")) == "F F E"
    assert names(line("Dm7 G7 Cmaj7", start_on="seventh")) == "C B B"


@given(st.lists(st.sampled_from(CHORDS), min_size=1, max_size=16))
def test_every_note_is_a_guide_tone_and_the_line_never_leaps(symbols):
    tune = line(" ".join(symbols), around=Pitch("B", 0, 4))
    validate_tune(tune)
    sounds = sounds_of(tune)
    assert len(sounds) == len(symbols)
    for sound, bar in zip(sounds, tune.bars, strict=True):
        assert sound.pitch.name in guide_tones(bar.chords[0].symbol)
    assert all(abs(b.pitch.midi - a.pitch.midi) <= 6 for a, b in pairwise(sounds))


def test_bars_chords_and_numbers_are_the_sheets(aaba):
    tune = guide_tone_line(aaba)
    assert [b.number for b in tune.bars] == [b.number for b in aaba.bars]
    assert [b.chords for b in tune.bars] == [b.chords for b in aaba.bars]
    validate_tune(tune)


def test_bars_without_a_chord_rest():
    tune = line("C6 N.C. G7")
    assert tune.bars[1].notes[0].is_rest
    assert len(sounds_of(tune)) == 2


@pytest.mark.parametrize(
    ("meter", "notes"),
    [("3/4", "c6"), ("5/4", "c6 c4"), ("6/8", "c6"), ("7/8", "c4 c3")],
)
def test_other_meters_come_out_whole(meter, notes):
    body = f'"C6"{notes}|"G7"{notes}|"N.C."{notes}|]'
    text = f"X:1\nT:t\nM:{meter}\nL:1/8\nK:C\n{body}"
    tune = guide_tone_line(read_abc(text, source="t.abc"))
    validate_tune(tune)
    assert names(tune) == "E F"


def test_another_start_is_a_value_error(aaba):
    with pytest.raises(ValueError, match="third"):
        guide_tone_line(aaba, start_on="ninth")
