"""The hint about the key signature against keys that collectors declared.

Source: a fixed sample of the collection "ryansMammoth" (fiddle tunes, printed 1883) in
music21's corpus. The full figures are printed by tests/benchmarks/key_hints.py.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import music21
import pytest

from kit.check._key import key_findings
from kit.check._leaf import leaf_of
from kit.errors import NotationError
from kit.tune.abc.read import read_abc
from kit.tune.pitch import Key

FOLDER = Path(music21.__file__).parent / "corpus" / "ryansMammoth"


@pytest.fixture(scope="module")
def sample():
    tunes = []
    for path in sorted(FOLDER.glob("*.abc"))[::15]:
        try:
            tune = read_abc(path.read_text(), source=path.name, keep_uneven=True)
            leaf_of(tune)
        except NotationError:
            continue
        tunes.append(tune)
    assert len(tunes) > 40
    return tunes


def doubted(tune, off=0):
    bars = (replace(bar, key=Key(bar.key.fifths + off, bar.key.mode)) for bar in tune.bars)
    return bool(list(key_findings(leaf_of(replace(tune, bars=tuple(bars))))))


def test_a_right_signature_is_hardly_ever_doubted(sample):
    assert sum(map(doubted, sample)) <= 1


@pytest.mark.parametrize("off", [-3, -2, 2, 3])
def test_a_signature_two_or_three_accidentals_off_is_nearly_always_noticed(sample, off):
    assert sum(doubted(tune, off) for tune in sample) >= 0.85 * len(sample)
