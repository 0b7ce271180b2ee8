"""How many tunes a second does one core read, check, transpose and engrave?

    python tests/benchmarks/corpus_speed.py              1,000 tunes of music21's corpus
    python tests/benchmarks/corpus_speed.py --profile    where the time goes, 200 of them

Each tune is read from ABC; checked for signs that lead nowhere, missing changes, its key
signature and notes that clash with changes; written out for four horns, whose range is
checked; and drawn as four SVGs. The tunes are spread evenly over the corpus; one that our
reader refuses counts as a tune, and is told.

The plain way, on a sample of the same tunes: music21 reads the tune once; for each horn it
transposes it and writes MusicXML, and a fresh Verovio toolkit draws that.

Both run in one process, and seconds are of its processor, so that other work on the machine
counts little; libraries are loaded beforehand.

Source: the ABC collections of music21's corpus.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import sys
import time
import warnings
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from corpus_parts import tune_texts
from machine import describe

from kit.check._changes import missing_changes
from kit.check._key import key_findings
from kit.check._leaf import leaf_of
from kit.check._reach import outside_comfort, outside_range
from kit.check._signs import sign_findings
from kit.check.melody import melody_clashes
from kit.engrave.drawing import engrave_excerpt
from kit.engrave.engraver import PAPER
from kit.errors import NotationError
from kit.instruments.part import Part
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune

HORNS = ("alto-sax", "tenor-sax", "trumpet", "trombone")
INTERVALS = {"alto-sax": "M6", "tenor-sax": "M9", "trumpet": "M2", "trombone": "P1"}
STAGES = ("read", "check", "transpose", "check parts", "engrave")
PROFILED = 200


class Clock:
    """Processor seconds and counts by stage."""

    def __init__(self) -> None:
        self.seconds: Counter[str] = Counter()
        self.counts: Counter[str] = Counter()

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        """Add the seconds of a block to a stage, failed ones too."""
        start = time.process_time()
        try:
            yield
        finally:
            self.seconds[name] += time.process_time() - start

    @property
    def total(self) -> float:
        return sum(self.seconds.values())


def chosen(count: int) -> list[tuple[str, str]]:
    """Give name and text of so many tunes, evenly spread."""
    every = list(tune_texts())
    return [every[place * len(every) // count] for place in range(count)]


def process(name: str, text: str, clock: Clock) -> None:
    """Take one tune all the way."""
    clock.counts["tunes"] += 1
    try:
        with clock.stage("read"):
            tune = read_abc(text, source=name, keep_uneven=True)
        with clock.stage("check"):
            leaf = leaf_of(tune)
            found = [
                *sign_findings(leaf), *missing_changes(leaf),
                *key_findings(leaf), *melody_clashes(leaf),
            ]  # fmt: skip
    except NotationError:
        clock.counts["refused"] += 1
        return
    with clock.stage("transpose"):
        parts = written(tune)
    with clock.stage("check parts"):
        found += [*outside_range(leaf, parts), *outside_comfort(leaf, parts)]
    with clock.stage("engrave"):
        drawn = [engrave_excerpt(part, page=PAPER).svg for part in parts]
    clock.counts["findings"] += len(found)
    clock.counts["drawings"] += len(drawn)
    clock.counts["bars"] += len(tune.bars)


def written(tune: Tune) -> list[Part]:
    """Write a tune out for the horns."""
    return [write_part(tune, instrument(horn)) for horn in HORNS]


def process_plainly(text: str, clock: Clock) -> None:
    """Take one tune the plain way."""
    import verovio
    from music21 import converter
    from music21.exceptions21 import Music21Exception
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    clock.counts["tunes"] += 1
    try:
        with clock.stage("read"):
            score = converter.parse(text, format="abc")
        for horn in HORNS:
            with clock.stage("transpose"):
                part = score.transpose(INTERVALS[horn])
            with clock.stage("write"):
                musicxml = GeneralObjectExporter(part).parse().decode()
            with clock.stage("engrave"):
                toolkit = verovio.toolkit()
                toolkit.setOptions({"adjustPageHeight": True, "pageHeight": 60000})
                toolkit.loadData(musicxml)
                clock.counts["drawings"] += bool(toolkit.renderToSVG(1))
    except Music21Exception:
        clock.counts["refused"] += 1


def report(title: str, clock: Clock) -> float:
    """Print a table of stages and give tunes a second."""
    speed = clock.counts["tunes"] / clock.total
    counts = ", ".join(f"{count} {name}" for name, count in clock.counts.items())
    print(f"{title}: {counts}")
    for stage, seconds in clock.seconds.items():
        print(
            f"  {stage:12} {seconds:7.2f} s  {100 * seconds / clock.total:4.0f} %"
            f"  {1000 * seconds / clock.counts['tunes']:7.2f} ms a tune"
        )
    print(f"  {'together':12} {clock.total:7.2f} s  {speed:.1f} tunes a second\n")
    return speed


def run(tunes: Iterable[tuple[str, str]], each: Callable[[str, str, Clock], None]) -> Clock:
    """Take tunes all the way."""
    clock = Clock()
    for name, text in tunes:
        each(name, text, clock)
    return clock


def profile(tunes: Sequence[tuple[str, str]]) -> None:
    """Print the functions that take most, by themselves and with what they call."""
    watch = cProfile.Profile(time.process_time)
    watch.runcall(run, tunes, process)
    for order in ("tottime", "cumulative"):
        pstats.Stats(watch).strip_dirs().sort_stats(order).print_stats(30)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tunes", type=int, default=1000)
    parser.add_argument("--plain", type=int, default=40, help="of these the plain way")
    parser.add_argument("--profile", action="store_true", help="profile instead")
    asked = parser.parse_args()
    tunes = chosen(asked.tunes)
    # music21 warns of what it leaves out; here that is not the question.
    warnings.simplefilter("ignore")
    run(tunes[:2], process)
    if asked.profile:
        profile(tunes[:: max(1, len(tunes) // PROFILED)])
        return 0
    print(describe(("music21", "verovio")) + "\n")
    start = time.perf_counter()
    speed = report("the kit", run(tunes, process))
    wall_s = time.perf_counter() - start
    print(f"on the wall {wall_s:.1f} s, {len(tunes) / wall_s:.1f} tunes a second\n")
    sample = tunes[:: max(1, len(tunes) // asked.plain)]
    run(sample[:1], lambda _, text, clock: process_plainly(text, clock))
    plain = run(sample, lambda _, text, clock: process_plainly(text, clock))
    print(f"ratio {speed / report('the plain way', plain):.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
