"""music21's readings of its corpus, brought over the bridge, against ours; kern and MEI.

Sources: music21 (registry package), its readers and its corpus, by a fixed stride; for kern
the spines of the file, read by the few rules of tests/benchmarks/corpus_bridge.py; for MEI
Verovio, which writes it. The full figures are printed by that program.
"""

from __future__ import annotations

import importlib.util
import sys
import warnings
from collections import Counter
from pathlib import Path

import music21
import pytest
import verovio

from kit.errors import NotationError
from kit.tune.read import read_tune

BENCHMARK = Path(__file__).parents[1] / "benchmarks" / "corpus_bridge.py"


@pytest.fixture(scope="module")
def bridge():
    spec = importlib.util.spec_from_file_location("corpus_bridge", BENCHMARK)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(autouse=True)
def _quiet_music21():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield


def test_scores_read_by_music21_are_the_tunes_that_we_read(bridge):
    paths = list(bridge.reading.scores())[::45]
    found = [bridge.compare_score(path) for path in paths]
    compared = [differing for differing in found if differing is not None]
    assert len(compared) >= 10
    assert compared == [set()] * len(compared)


def test_abc_read_by_music21_is_mostly_what_we_read(bridge):
    found = [bridge.compare_abc(*item) for item in list(bridge.reading.abc_tunes())[::401]]
    compared = [differing for differing in found if differing is not None]
    same = sum(differing == set() for differing in compared)
    assert len(compared) >= 25
    assert same >= 0.8 * len(compared), Counter(map(str, compared))


def test_abc_tunes_go_to_music21_and_back(bridge):
    found = []
    for name, text in list(bridge.reading.abc_tunes())[::401]:
        try:
            found.append(bridge.comes_back(bridge.read_abc(text, source=name)))
        except NotationError:
            continue
    assert len(found) >= 25
    assert found == [set()] * len(found)


def test_kern_files_are_one_of_their_spines_note_for_note(bridge):
    counts = Counter(bridge.compare_kern(path) for path in bridge.kern_files()[::90])
    assert counts["agrees"] >= 12
    assert set(counts) <= {"agrees", "read, not compared: its spines split"}


def test_mei_that_verovio_writes_is_the_tune_it_was_made_of(bridge):
    toolkit = verovio.toolkit()
    abc = list(bridge.reading.abc_tunes())[::601]
    found = [bridge.compare_mei(*item, toolkit) for item in abc]
    compared = [verdict for verdict in found if verdict is not None]
    assert len(compared) >= 15
    assert compared == ["agrees"] * len(compared)


@pytest.mark.parametrize("number", range(1, 6))
def test_musedata_parts_of_music21s_tests_open(number):
    """The notes' names are those in the file's own columns (1 to 4)."""
    path = Path(music21.__file__).parent / f"musedata/testPrimitive/test01/0{number}.md"
    tune = read_tune(path)
    written = [
        line[:4].split()[0]
        for line in path.read_text(encoding="latin-1").splitlines()
        if line[:1] in set("ABCDEFG") and line[5:8].strip().isdigit()
    ]
    signs = str.maketrans({"♯": "#", "♭": "f"})
    ours = [
        str(n.pitch).translate(signs) for bar in tune.bars for n in bar.notes if n.pitch
    ]
    if number > 1:  # the clarinet in A is brought to concert pitch
        assert ours == written
    assert len(ours) == len(written)
    assert tune.title == "Clarinet Quintet"
