"""How often is a right key signature doubted, and a wrong one noticed?

Run by hand: ``python tests/benchmarks/key_hints.py``. Tunes of music21's corpus with a
declared key are checked as they are and with the signature falsified. The baseline in the
same run is the bare key estimate, without asking for accidentals to back it.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import music21

from kit.check._key import key_findings
from kit.check._leaf import leaf_of
from kit.errors import NotationError
from kit.tune.abc.read import read_abc
from kit.tune.key_find import find_key
from kit.tune.model import Tune
from kit.tune.pitch import Key
from kit.tune.sounding import sounding

CORPUS = Path(music21.__file__).parent / "corpus"
SAMPLES = {"oneills1850": 400, "ryansMammoth": 300}


def tunes(folder: str, count: int) -> Iterator[Tune]:
    """Give a fixed random sample of the readable tunes of a folder."""
    places = [
        (path, int(found[1]))
        for path in sorted((CORPUS / folder).glob("*.abc"))
        for found in re.finditer(r"(?m)^X:\s*(\d+)", path.read_text(errors="replace"))
    ]
    random.Random(1).shuffle(places)
    given = 0
    for path, number in places:
        if given == count:
            return
        text = path.read_text(errors="replace")
        try:
            tune = read_abc(text, source=path.name, tune_number=number, keep_uneven=True)
            leaf_of(tune)
        except NotationError:
            continue
        given += 1
        yield tune


def falsified(tune: Tune, by: int) -> Tune:
    """Give the same notes under a signature some accidentals off."""
    bars = (replace(bar, key=Key(bar.key.fifths + by, bar.key.mode)) for bar in tune.bars)
    return replace(tune, bars=tuple(bars))


def doubted(tune: Tune) -> bool:
    """Say whether the check has something to say."""
    return bool(list(key_findings(leaf_of(tune))))


def estimate_differs(tune: Tune) -> bool:
    """Say whether the bare estimate has another signature."""
    weights = [0.0] * 12
    for note in sounding(tune.bars):
        weights[note.pitch.midi % 12] += float(note.duration)
    return (find_key(weights).key.fifths - tune.key.fifths) % 12 != 0


def main() -> None:
    """Print the shares."""
    for folder, count in SAMPLES.items():
        sample = list(tunes(folder, count))
        alarms = sum(map(doubted, sample))
        bare = sum(map(estimate_differs, sample))
        print(f"{folder}: {len(sample)} tunes, right signature doubted in {alarms}")
        print(f"  (bare estimate, the baseline: {bare})")
        for by in (-3, -2, -1, 1, 2, 3):
            noticed = sum(doubted(falsified(tune, by)) for tune in sample)
            print(f"  off by {by:+d}: {100 * noticed / len(sample):.0f} % noticed")


if __name__ == "__main__":
    main()
