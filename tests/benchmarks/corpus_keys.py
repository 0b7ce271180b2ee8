"""How often is the declared key of a tune the one that its notes are taken for?

    python tests/benchmarks/corpus_keys.py          every 6th ABC tune (about 40 s)

Counts tunes whose key is declared major or minor and does not change: estimated by the
notes alone and with the last note known, against the declared key itself and against its
signature (so that a relative key counts). Declared keys are not all true: many old
collections give a modal tune the signature of a major key.

Source: the keys declared in music21's corpus (its ABC collections).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from corpus_parts import sheets

from kit.tune.key_find import find_key
from kit.tune.model import Tune
from kit.tune.sounding import sounding

MODES = ("major", "minor")


def declared(stride: int, start: int = 0) -> Iterator[Tune]:
    """Yield tunes with one declared key, major or minor."""
    for tune in sheets(stride, start):
        keys = {bar.key for bar in tune.bars}
        if len(keys) == 1 and tune.key.mode in MODES:
            yield tune


def verdicts(tune: Tune) -> Counter[str]:
    """Say what of a tune's declared key is found."""
    weights, last = [0.0] * 12, 0
    for sound in sounding(tune.bars):
        last = sound.pitch.midi % 12
        weights[last] += float(sound.duration)
    found: Counter[str] = Counter(tunes=1)
    if max(weights) <= min(weights):
        return found
    for label, guess in (
        ("notes alone", find_key(weights)),
        ("with the last note", find_key(weights, last=last)),
    ):
        same_signature = (guess.key.fifths - tune.key.fifths) % 12 == 0
        found[f"{label}: signature"] = int(same_signature)
        found[f"{label}: key"] = int(same_signature and guess.key.mode == tune.key.mode)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--stride", type=int, default=6, help="every n-th tune")
    counts: Counter[str] = Counter()
    for tune in declared(parser.parse_args().stride):
        counts += verdicts(tune)
    for label, count in counts.items():
        print(f"{label:32} {count:6} ({100 * count / counts['tunes']:.1f} %)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
