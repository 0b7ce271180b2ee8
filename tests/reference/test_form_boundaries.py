"""Section borders against the letters that editors printed into their dance tunes.

Sources: ``P:`` marks in the ABC collections of music21's corpus (tunes whose sections are
all of 8, 16 or 32 bars), and mir_eval.segment.detection (ISMIR 2014) for precision and
recall of borders within one bar. All figures: ``python tests/benchmarks/form_finding.py``.
"""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

import pytest

from kit.form._search import found_form

_PLACE = Path(__file__).parents[1] / "benchmarks/form_finding.py"


@pytest.fixture(scope="module")
def benchmark():
    spec = importlib.util.spec_from_file_location("form_finding_benchmark", _PLACE)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules[spec.name]


def test_most_printed_forms_are_found_exactly_and_no_border_is_lost(benchmark):
    pieces = list(benchmark.with_parts(benchmark.COMMON))
    assert len(pieces) >= 50
    score = benchmark.measured(pieces, found_form)
    # Sixteen bars a a b b are four phrases to us; some editors print them as A and B.
    assert score.exact >= 0.85
    assert score.precision >= 0.9
    assert score.recall >= 0.95


def test_the_finder_beats_cutting_every_eight_bars(benchmark):
    pieces = list(benchmark.with_parts(benchmark.COMMON))
    ours, plain = (benchmark.measured(pieces, f) for f in (found_form, benchmark.eights))
    assert ours.exact > plain.exact + 0.5


def test_generated_song_forms_keep_their_borders(benchmark):
    score = benchmark.measured(list(benchmark.songs(60)), found_form)
    assert min(score.exact, score.precision, score.recall) >= 0.9
