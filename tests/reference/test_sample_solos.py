"""Solos on a fixed set of tunes: each its own rhythm, on the chords, within its level.

Tunes: our own over textbook progressions, in many meters, with sections of odd length, bars
without chord and pick-ups (``tests/benchmarks/solo_tunes.py``). The goals are a teacher's;
that strong beats carry chord notes and that large leaps are rare is common practice of
melody writing. All tunes with all figures:
``python tests/benchmarks/sample_solos.py``.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import combinations
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import solo_measures as measure
from solo_tunes import made

from kit.solo.phrases import melody_of
from kit.solo.sample import draft_solo
from kit.tune._validate import validate_tune

LEVELS = ("beginner", "intermediate", "advanced")
NAMES = (
    "minor blues", "rhythm changes with bridge", "two-chord dorian vamp", "jazz waltz",
    "minor waltz", "jig in two strains", "minor jig", "slip jig", "five-four vamp",
    "seven-eight dance", "five-bar strains", "nine-bar strains", "bars without chord",
    "changing meters", "march in two", "very slow air", "pick-up song", "fast swing",
)  # fmt: skip


@pytest.fixture(scope="module")
def subjects():
    found = [subject for subject in made() if subject.name in NAMES]
    assert len(found) == len(NAMES)
    return found


@pytest.fixture(scope="module", params=LEVELS)
def solos(request, subjects):
    level = request.param
    return level, {s.name: draft_solo(s.tune, s.form, level=level) for s in subjects}


def test_hardly_two_solos_share_more_than_half_of_their_bars(solos):
    """About as few do as among the tunes themselves, one pair in a hundred (craft.md)."""
    _, made = solos
    bars = {
        name: [(solo.meter, rhythm) for rhythm in measure.bar_rhythms(solo) if rhythm]
        for name, solo in made.items()
    }
    shared = {
        (a, b): measure.share_of_bag(bars[a], bars[b]) for a, b in combinations(bars, 2)
    }
    over = [pair for pair, share in shared.items() if share > 0.5]
    assert len(over) <= 0.02 * len(shared), over
    assert sum(shared.values()) <= 0.1 * len(shared)


def test_strong_beats_have_chord_notes_and_leaps_are_rare(solos):
    _, made = solos
    for name, solo in made.items():
        validate_tune(solo)
        inside, total = measure.tones(solo)
        assert inside >= 0.85 * total, name
    leaps = sum(map(measure.leaps, made.values()), Counter())
    assert leaps["over an octave"] == 0
    assert leaps["over a sixth"] <= 0.02 * leaps["all"]


def test_range_and_breath_stay_within_the_level(solos, subjects):
    level, made = solos
    for subject in subjects:
        limits = melody_of(subject.tune, subject.form, level=level).limits
        solo = made[subject.name]
        new = [s.pitch.midi for s in measure.sounds_of(solo)]
        assert max(new) - min(new) <= limits.compass
        longest = measure.longest_breath_s(solo, limits.tempo_qpm)
        assert longest <= limits.breath_s + 0.05, (subject.name, longest)


def test_most_bars_are_inside_a_bar_of_the_tune(solos, subjects):
    level, made = solos
    share = {"beginner": 0.8, "intermediate": 0.8, "advanced": 0.7}[level]
    inside = [
        one for s in subjects for _, one, _ in measure.from_tune(made[s.name], s.tune)
    ]
    assert sum(inside) >= share * len(inside)
