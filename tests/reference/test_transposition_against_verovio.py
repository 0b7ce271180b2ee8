"""Parts against Verovio's own transposition, note by note.

Source: Verovio (its ``transpose`` option, on the MusicXML of the concert sheet). Notes that
we respell on purpose must sound the same; all others must have the same name. The tunes
are traditional ones of music21's corpus, a fixed sample; the comparison is that of
tests/benchmarks/corpus_parts.py, which takes a thousand.
"""

import importlib.util
import sys
from pathlib import Path

import pytest

BENCHMARK = Path(__file__).parents[1] / "benchmarks" / "corpus_parts.py"
STRIDE, START = 310, 7


def benchmark():
    spec = importlib.util.spec_from_file_location("corpus_parts", BENCHMARK)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


PARTS = benchmark()
SHEETS = {sheet.source: sheet for sheet in PARTS.sheets(STRIDE, START)}


@pytest.mark.parametrize("name", SHEETS)
def test_parts_equal_verovios_transposition_and_go_back(name):
    counts, found = PARTS.compare(SHEETS[name])
    assert found == []
    assert counts["parts"] == len(PARTS.HORNS)
    assert counts["notes"] > 0


def test_enough_tunes_are_compared():
    assert len(SHEETS) >= 40
    assert len({name.partition("/")[0] for name in SHEETS}) >= 4


def test_the_comparison_notices_a_wrong_note():
    sheet = next(iter(SHEETS.values()))
    part = PARTS.write_part(sheet, PARTS.instrument("alto-sax"))
    musicxml = PARTS.write_musicxml(sheet)
    wrong = PARTS.verovio_pitches(musicxml, PARTS.Interval.parse("m6"))
    assert PARTS.differences(part, wrong)
