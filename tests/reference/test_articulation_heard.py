"""What stands on the page, in the sound of the demonstration (`articulation_measures`).

Sources: dynamics from pp to ff 12 dB apart or more: the steps of wind players as measured
by Luce, *J. Audio Eng. Soc.* 23 (1975) (from memory); lengths: Türk, *Klavierschule* (1789)
(from memory); off-beats leaned on in swing, slurs without a new attack, breath at the
phrase: common practice of wind teaching.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from articulation_measures import Stage

from kit.instruments.table import instrument
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

WINDS = ("tenor-sax", "clarinet", "trumpet", "trombone")
BARS = {0: {"slurs_started": 1}, 7: {"slurs_ended": 1}}


@cache
def stage(slug: str) -> Stage:
    return Stage(instrument(slug), open_synth(find_soundfont(environ={})))


@pytest.fixture(params=WINDS)
def played(request: pytest.FixtureRequest) -> Stage:
    return stage(request.param)


def test_tongues_are_heard_and_slurs_have_none_inside(played: Stage) -> None:
    tongued = played.attacks({}, feel="straight-eighths")
    slurred = played.attacks(BARS, feel="straight-eighths")
    assert tongued >= 14
    assert slurred <= 3
    assert played.swells_between_db() < 2.5


def test_lengths_are_heard(played: Stage) -> None:
    plain, staccato = played.length_share(), played.length_share("staccato")
    assert 0.85 < plain <= 1
    assert played.length_share("tenuto") > plain
    assert 0.4 < staccato < 0.7
    assert played.length_share("staccatissimo") < staccato - 0.1


def test_dynamics_and_accents_are_heard(played: Stage) -> None:
    signs = [played.level_db(sign) for sign in ("pp", "p", "mp", "mf", "f", "ff")]
    assert signs == sorted(signs)
    assert signs[-1] - signs[0] >= 12
    assert played.level_db("", "accent") - played.level_db() > 3
    assert played.level_db("", "ghost") - played.level_db() < -8
    assert played.hairpin_db() > 0.5


def test_swing_leans_on_the_off_beats(played: Stage) -> None:
    assert played.off_beats_db(feel="medium-swing") >= 0


def test_phrases_breathe(played: Stage) -> None:
    # Eight bars of 2.1 seconds, five seconds of breath: after every second bar.
    assert played.breaths(5.0) == [2, 4, 6]
