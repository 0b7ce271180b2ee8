"""In which octaves are the parts of a thousand tunes written, and what is moved?

Writes tunes of music21's corpus as lessons of three levels for eight horns, and counts
parts with notes moved by octaves, and parts that leave the level's comfortable range where
another octave would not. Tunes are told apart by a hash of their names: the weights were
set by looking at one half, the figures in the guide are those of the other.

    python tests/benchmarks/corpus_octaves.py            225 tunes of the judged half
    python tests/benchmarks/corpus_octaves.py --tuned    of the half that was looked at
"""

from __future__ import annotations

import argparse
import hashlib
import time
from collections import Counter
from collections.abc import Iterator

from corpus_parts import tune_texts

from kit.errors import NotationError
from kit.instruments.part import Part
from kit.instruments.table import LEVEL_NAMES, Instrument, instrument
from kit.instruments.transposition import octaves_of_levels, write_part
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune

HORNS = (
    "alto-sax", "tenor-sax", "soprano-sax", "baritone-sax", "clarinet", "trumpet",
    "trombone", "flute",
)  # fmt: skip


def sheets(*, judged: bool, most: int) -> Iterator[Tune]:
    """Yield tunes of one half, in the order of their hashes: any folder may come next."""
    named = [(hashlib.sha256(name.encode()), name, text) for name, text in tune_texts()]
    half = sorted(
        (digest.hexdigest(), name, text)
        for digest, name, text in named
        if digest.digest()[0] % 2 == judged
    )
    found = 0
    for _, name, text in half:
        try:
            yield read_abc(text, source=name, keep_uneven=True)
        except NotationError:
            continue
        found += 1
        if found == most:
            return


def heights(part: Part) -> list[int]:
    """Give the written notes as they would be without any moved back."""
    back = {
        (index, position): move.octaves
        for move in part.moves
        for index in range(move.first[0], move.last[0] + 1)
        for position in range(len(part.tune.bars[index].notes))
        if move.first <= (index, position) <= move.last
    }
    return [
        note.pitch.midi - 12 * back.get((index, position), 0)
        for index, bar in enumerate(part.tune.bars)
        for position, note in enumerate(bar.notes)
        if note.pitch is not None
    ]


def count(part: Part) -> Counter[str]:
    """Count what is to be known of a part."""
    plain = heights(part)
    if not plain:
        return Counter()
    inside = part.instrument.comfortable_range(part.level)
    low, high = inside.low.midi, inside.high.midi
    elsewhere = any(
        low <= min(plain) + 12 * octaves and max(plain) + 12 * octaves <= high
        for octaves in range(-5, 6)
    )
    # Grace notes pass by, and have no say in the octave.
    out = sum(
        not low <= note.pitch.midi <= high
        for bar in part.tune.bars
        for note in bar.notes
        if note.pitch is not None
    )
    moved = len(part.moved)
    return Counter(
        {
            "parts": 1,
            "parts in another octave than usual": part.octave_shift != 0,
            "parts with a note moved": moved > 0,
            "parts with a quarter of the notes moved": moved > len(plain) / 4,
            "parts with half of the notes moved": moved > len(plain) / 2,
            "parts that leave the comfortable range": out > 0,
            "... where another octave does not": out > 0 and elsewhere,
            "notes": len(plain),
            "notes moved": moved,
            "notes out of the instrument's range": len(part.out_of_range),
            "notes beyond the comfortable range": out,
        }
    )


def lesson(sheet: Tune, player: Instrument) -> Counter[str]:
    """Write a tune for the three levels."""
    octaves = octaves_of_levels([(sheet, level) for level in LEVEL_NAMES], player)
    counts = Counter({"lessons": 1, "lessons with two octaves": len(set(octaves)) > 1})
    for level, shift in zip(LEVEL_NAMES, octaves, strict=True):
        counts.update(count(write_part(sheet, player, level=level, octave_shift=shift)))
    return counts


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tunes", type=int, default=225, help="how many")
    parser.add_argument("--tuned", action="store_true", help="of the other half")
    options = parser.parse_args()
    started = time.perf_counter()
    counts: Counter[str] = Counter()
    for sheet in sheets(judged=not options.tuned, most=options.tunes):
        for slug in HORNS:
            counts.update(lesson(sheet, instrument(slug)))
    for name, number in counts.items():
        print(f"{name:44} {number:8}")
    print(f"{'seconds':44} {time.perf_counter() - started:8.0f}")


if __name__ == "__main__":
    main()
