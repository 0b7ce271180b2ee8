"""Proposed changes against those of an accompanist, and of Bach's chorales.

Sources: thirty traditional tunes marked by ourselves before the code was written
(``accompaniment/``); the chorales that music21 carries with analyses in Roman numerals,
their analysts named in each file. The comparison is that of
``tests/benchmarks/chords_for_tunes.py``; the floors lie a little below its figures.
"""

from __future__ import annotations

import importlib.util
import sys
import warnings
from pathlib import Path

import pytest

BENCHMARK = Path(__file__).parents[1] / "benchmarks" / "chords_for_tunes.py"


@pytest.fixture(scope="module")
def measure():
    spec = importlib.util.spec_from_file_location("chords_for_tunes", BENCHMARK)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def test_tunes_kept_for_judging_agree_with_the_accompanist(measure):
    _, judging = measure.marked_tunes()
    found = measure.score(judging, measure.proposed)
    assert len(judging) == 15
    assert found.total >= 200
    assert found.function >= 0.83 * found.total
    assert found.chord >= 0.75 * found.total


def test_proposing_is_worth_more_than_one_chord_or_each_slot_by_itself(measure):
    _, judging = measure.marked_tunes()
    found = measure.score(judging, measure.proposed).function
    assert found >= 1.2 * measure.score(judging, measure.tonic_throughout).function
    assert found >= 1.15 * measure.score(judging, measure.each_by_itself).function


def test_chorales_agree_with_their_analyses(measure):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        chorales = measure.analysed_chorales()
    found = measure.score(chorales, measure.proposed)
    assert len(chorales) >= 15
    assert found.function >= 0.72 * found.total
