"""How do ``kit new``, ``kit check`` and a draft grow with the length of a tune?

    python tests/benchmarks/long_tunes.py                  16 to 512 bars, six kinds
    python tests/benchmarks/long_tunes.py --kinds set,bare --bars 32,128
    python tests/benchmarks/long_tunes.py --corpus         the longest traditional tunes

Seconds are of the processor, so that other work on the machine counts little: for the two
commands those of the whole command, Python and its libraries loaded; for the draft (both
levels, one after the other) those of the drafting alone. ``x`` is the ratio to the tune of
32 bars of the same kind in the same run, ``a bar`` the milliseconds for each bar beyond
those of the 32, so that what a command costs at any length does not count.

The tunes are those of long_tune_maker.py; those of ``--corpus`` are the longest that
music21 ships of its ABC collections, as printed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from corpus_parts import sheets
from long_tune_maker import KINDS, long_tune
from machine import describe, run_program

from kit.authoring._start_levels import start_levels
from kit.form.find import find_form
from kit.tune.musicxml.write import write_musicxml
from kit.tune.read import read_tune
from kit.tune.unfold import unfolded

ROOT = Path(__file__).resolve().parents[2]
BASE = 32
LONGEST = 6
BARS = (16, 32, 64, 128, 256, 512)
WORK = ("new", "check", "draft")


def measured(file: Path, desk: Path) -> dict[str, float]:
    """Start a lesson of a file, check it, and draft its levels; give the seconds."""
    lessons = desk / file.stem
    env = {"PYTHONPATH": str(ROOT)}
    log = desk / "log.txt"
    kit = [sys.executable, "-m", "kit"]
    new = [*kit, "new", file, "--lessons", lessons]
    seconds = {"new": run_program(new, env=env, cwd=desk, log=log).processor_s}
    (lesson,) = lessons.iterdir()
    check = [*kit, "check", lesson]
    seconds["check"] = run_program(check, env=env, cwd=desk, log=log).processor_s
    seconds["draft"] = drafting(file)
    return seconds


def drafting(file: Path) -> float:
    """Draft the levels of a tune, in this process."""
    tune = read_tune(file)
    form = find_form(unfolded(tune))
    start = time.process_time()
    start_levels(tune, form, say=lambda words: None)
    return time.process_time() - start


def row(bars: int, seconds: dict[str, float], base: tuple[int, dict[str, float]]) -> str:
    """Print seconds, ratios to the base, and what each further bar costs."""
    cells = []
    for work in WORK:
        spent, basis = seconds[work], base[1][work]
        more = bars - base[0]
        a_bar = f"{1000 * (spent - basis) / more:5.0f} ms" if more > 0 else 8 * " "
        cells.append(f"{spent:6.2f} s {spent / basis:5.1f} x {a_bar}")
    return "   ".join(cells)


def show(rows: dict[int, dict[str, float]], names: dict[int, str]) -> None:
    """Print measured tunes by their bars, against the one of 32."""
    for bars in sorted(rows):
        print(f"{names[bars]:22} {bars:4}  {row(bars, rows[bars], (BASE, rows[BASE]))}")


def show_kind(kind: str, sizes: Iterable[int], desk: Path) -> None:
    """Measure tunes of a kind."""
    rows = {}
    for bars in sorted({BASE, *sizes}):
        file = desk / f"{kind}-{bars}.abc"
        file.write_text(long_tune(kind, bars), encoding="utf-8")
        rows[bars] = measured(file, desk)
    show(rows, dict.fromkeys(rows, kind))


def show_corpus(desk: Path) -> None:
    """Measure the longest traditional tunes beside one of 32 bars."""
    every = sorted(sheets(1), key=lambda sheet: -len(sheet.bars))
    rows: dict[int, dict[str, float]] = {}
    names: dict[int, str] = {}
    for sheet in [next(one for one in every if len(one.bars) == BASE), *every[:LONGEST]]:
        bars = len(sheet.bars)
        file = desk / f"corpus-{bars}.musicxml"
        file.write_text(write_musicxml(sheet), encoding="utf-8")
        rows[bars], names[bars] = measured(file, desk), sheet.title[:22]
    show(rows, names)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kinds", default=",".join(KINDS))
    parser.add_argument("--bars", default=",".join(map(str, BARS)))
    parser.add_argument("--corpus", action="store_true")
    asked = parser.parse_args()
    print(describe() + "\n")
    print(f"{'':22} bars  {'new':28}   {'check':28}   draft")
    with tempfile.TemporaryDirectory() as place:
        desk = Path(place)
        first = desk / "first.abc"
        first.write_text(long_tune("jig", 8), encoding="utf-8")
        # The first run compiles the kit, which is not the question here.
        measured(first, desk)
        if asked.corpus:
            show_corpus(desk)
            return 0
        for kind in asked.kinds.split(","):
            show_kind(kind, map(int, asked.bars.split(",")), desk)
    return 0


if __name__ == "__main__":
    sys.exit(main())
