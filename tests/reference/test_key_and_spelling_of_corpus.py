"""Estimated keys and spelled notes against what a corpus declares and writes.

Source: the declared keys and the accidentals of music21's ABC collections, a fixed sample;
the full figures are those of tests/benchmarks/corpus_keys.py. The floors lie a little below
what was measured, so that a worse method is noticed.
"""

from __future__ import annotations

import importlib.util
import sys
from collections import Counter
from fractions import Fraction
from pathlib import Path

import pytest

from kit.tune._spell import Unnamed, spelled_line
from kit.tune.sounding import sounding

BENCHMARK = Path(__file__).parents[1] / "benchmarks" / "corpus_keys.py"
REST_THAT_PARTS = Fraction(1)


@pytest.fixture(scope="module")
def tunes():
    spec = importlib.util.spec_from_file_location("corpus_keys", BENCHMARK)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module, list(module.declared(64, 5))


def test_the_declared_key_is_found_in_most_tunes(tunes) -> None:
    module, sample = tunes
    counts = sum((module.verdicts(tune) for tune in sample), Counter())
    assert counts["tunes"] >= 180
    assert counts["with the last note: signature"] >= 0.82 * counts["tunes"]
    assert counts["with the last note: key"] >= 0.79 * counts["tunes"]
    assert counts["notes alone: key"] >= 0.78 * counts["tunes"]


def test_notes_stripped_of_their_names_get_them_back(tunes) -> None:
    _, sample = tunes
    counts: Counter[str] = Counter()
    for tune in sample:
        starts = [sum((bar.length for bar in tune.bars[:i]), Fraction(0))
                  for i in range(len(tune.bars))]  # fmt: skip
        sounds, unnamed, end = list(sounding(tune.bars)), [], Fraction(0)
        for sound in sounds:
            start = starts[sound.bar] + sound.onset
            unnamed.append(Unnamed(sound.pitch.midi, start - end < REST_THAT_PARTS))
            end = start + sound.duration
        for named, sound in zip(spelled_line(unnamed, tune.key), sounds, strict=True):
            kind = "own" if sound.pitch.name in tune.key.scale else "chromatic"
            counts[kind] += 1
            counts[f"{kind} right"] += named == sound.pitch
    assert counts["chromatic"] >= 200
    assert counts["own right"] == counts["own"]
    assert counts["chromatic right"] >= 0.97 * counts["chromatic"]
