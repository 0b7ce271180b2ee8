"""Is there a file that the kit has no sentence for? Thousands of hostile ones, seeded.

    python tests/benchmarks/fuzz.py                        10,000 files, 200 whole builds
    python tests/benchmarks/fuzz.py --files 500 --builds 0 --seed 7 --minutes 10
    python tests/benchmarks/fuzz.py --replay 7000123 --keep /tmp/case

Every format that a user gives: notation, lesson settings, edit lists, notebooks, pictures,
SoundFonts, names, and what lies in the cache and the output folder from before. Three of
four files are good ones of different origin made bad, by bytes, by tokens or by tree; the
others are made by rule. Each goes through the ``kit`` command in a process of its own
(`fuzz_run`); counted is every promise broken (`fuzz_case.judged`), and written down by
cause with the seeds that give it again. The same seed makes the same file.

It takes a system that can fork. It ends with 1 if anything was counted.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import re
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from functools import partial
from itertools import chain
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import fuzz_builds
import fuzz_lesson
import fuzz_media
import fuzz_notation
import fuzz_outputs
from fuzz_case import Case
from fuzz_good import good
from fuzz_run import begin, load_kit, run_case
from machine import describe

FAMILIES: dict[str, tuple[Callable[..., Case], int]] = {
    "musicxml": (fuzz_notation.musicxml, 16),
    "mxl": (fuzz_notation.mxl, 8),
    "abc": (fuzz_notation.abc, 16),
    "midi": (fuzz_notation.midi, 9),
    "settings": (fuzz_lesson.settings, 13),
    "edits": (fuzz_lesson.edits, 8),
    "notebook": (fuzz_lesson.notebook, 9),
    "names": (fuzz_lesson.names, 7),
    "cover": (fuzz_media.cover, 4),
    "soundfont": (fuzz_media.soundfont, 3),
    "outputs": (fuzz_outputs.earlier_output, 3),
    "places": (fuzz_outputs.out_place, 2),
    "cache": (fuzz_outputs.cache_entry, 2),
}
"""What makes a case, and in how many of a hundred it does."""
_OF_OUTPUTS = ("outputs", "places", "cache")
SEEDS_A_RUN = 1_000_000
FIRST_BUILD = 500_000
"""Of the seeds of a run, those from here on are whole builds."""


def case_of(seed: int, base: str, only: str = "") -> Case:
    """Make the case of a seed."""
    usual = sys.getrecursionlimit()
    # Trees are made deeper than they may be; the command gets the usual limit back.
    sys.setrecursionlimit(20_000)
    try:
        return _made(Random(seed), seed, base, only)
    finally:
        sys.setrecursionlimit(usual)


def _made(chance: Random, seed: int, base: str, only: str) -> Case:
    if seed % SEEDS_A_RUN >= FIRST_BUILD:
        return fuzz_builds.lessons(chance)
    names = list(FAMILIES)
    name = chance.choices(names, [FAMILIES[one][1] for one in names])[0]
    name = only or name
    make = FAMILIES[name][0]
    return make(chance, base) if name in _OF_OUTPUTS else make(chance)


def prepare(base: Path) -> None:
    """Build one small lesson, for the cases that begin with an output."""
    files = fuzz_outputs.small_lesson_files()
    case = Case(
        "prepared",
        dict(files),
        [[b"build", b"lessons/small", b"--out", b"out", b"--jobs", b"1"]],
    )
    case.env["KIT_CACHE"] = "cache"
    report = run_case(lambda: case, base.parent / "preparing")
    if report["outcomes"][0]["code"] != 0:
        raise SystemExit(
            f"the lesson to begin with cannot be built: {report['outcomes'][0]['err']}"
        )
    shutil.move(base.parent / "preparing" / "work", base)


class Tally:
    """What was seen: cases by family, promises broken by cause."""

    def __init__(self) -> None:
        self.cases: Counter[str] = Counter()
        self.codes: Counter[str] = Counter()
        self.broken: defaultdict[tuple[str, str], list[int]] = defaultdict(list)
        self.example: dict[tuple[str, str], str] = {}
        self.most: dict[str, tuple[float, int]] = {}

    def add(self, seed: int, report: dict[str, Any]) -> None:
        """Count what became of a case."""
        self.cases[report["family"]] += 1
        for outcome in report["outcomes"]:
            self.codes[f"{outcome['command'][0]} ended with {outcome['code']}"] += 1
            for name in ("processor_s", "peak_bytes"):
                self.most[name] = max(self.most.get(name, (0.0, 0)), (outcome[name], seed))
        for kind, what in report["broken"]:
            cause = (kind, kind_of(kind, what, report))
            if cause not in self.broken:
                # Said at once: a run takes hours, and is worth nothing if it is stopped.
                print(f"\n{seed} {kind}: {what[:300]!r}", file=sys.stderr, flush=True)
            self.broken[cause].append(seed)
            self.example.setdefault(cause, what)

    def lines(self) -> Iterator[str]:
        """Say it all."""
        for name, count in sorted(self.cases.items()):
            yield f"{count:6} {name}"
        for name, count in sorted(self.codes.items()):
            yield f"{count:6} {name}"
        for name, (value, seed) in sorted(self.most.items()):
            yield f"most {name}: {value:.4g} (seed {seed})"
        for cause, seeds in sorted(self.broken.items(), key=lambda item: -len(item[1])):
            yield f"{len(seeds):6} BROKEN {cause[0]}: {cause[1]}"
            yield f"       seeds {seeds[:6]}; {self.example[cause][:300]!r}"


def kind_of(kind: str, what: str, report: dict[str, Any]) -> str:
    """Give what broken promises of one cause have in common."""
    if kind == "traceback":
        return what
    if kind == "long hint":
        return re.split(r"[;)] ", what)[-1][:80]
    words = re.sub(r'"[^"]*"|“[^”]*”|\'[^\']*\'', '"…"', what)
    words = re.sub(r"\d[\d.,]*", "N", words)
    words = re.sub(r"^(kit|error|warning|hint): [^:]*: ", "", words)
    return f"{report['family']}, {words[:70]}"


def run(wishes: argparse.Namespace, place: Path, tally: Tally) -> None:
    """Run the cases, some at once."""
    base = place / "base"
    prepare(base)
    good()
    os.environ["KIT_CACHE"] = str(place / "cache")
    first = wishes.seed * SEEDS_A_RUN
    files = range(first + wishes.start, first + wishes.files)
    builds = range(first + FIRST_BUILD, first + FIRST_BUILD + wishes.builds)
    todo = chain(files, builds)
    end = time.monotonic() + 60 * wishes.minutes
    running: dict[int, tuple[int, Path, Path]] = {}
    free = list(range(wishes.jobs))
    done = 0
    while True:
        while free and time.monotonic() < end and (seed := next(todo, None)) is not None:
            slot = free.pop()
            work, result = place / f"case-{slot}", place / f"result-{slot}.json"
            result.unlink(missing_ok=True)
            make = partial(case_of, seed, str(base), wishes.only)
            running[begin(make, work, result)] = (seed, work, result)
        if not running:
            return
        child, _ = os.wait()
        seed, work, result = running.pop(child)
        free.append(int(work.name.partition("-")[2]))
        report = _report(child, result)
        tally.add(seed, report)
        done += 1
        if report["broken"] and wishes.keep:
            _keep(wishes.keep, seed, report, work)
        if sys.stderr.isatty() or done % 500 == 0:
            print(f"\r{done:6} files, {len(tally.broken)} causes", end="", file=sys.stderr)


def _report(child: int, result: Path) -> dict[str, Any]:
    # What a case left running is of its group.
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)
    if result.is_file():
        found: dict[str, Any] = json.loads(result.read_text(encoding="utf-8"))
        return found
    return {
        "family": "lost",
        "note": "",
        "outcomes": [],
        "broken": [("program", "the case itself failed")],
    }


def _keep(keep: Path, seed: int, report: dict[str, Any], work: Path) -> None:
    keep.mkdir(parents=True, exist_ok=True)
    (keep / f"{seed}.json").write_text(json.dumps(report, indent=1), encoding="utf-8")


def replay(wishes: argparse.Namespace) -> int:
    """Make the file of a seed again, run it and show what it does."""
    place = wishes.keep or Path(tempfile.mkdtemp())
    base = place / "base"
    if not base.exists():
        place.mkdir(parents=True, exist_ok=True)
        prepare(base)
    os.environ["KIT_CACHE"] = str(place / "cache")
    report = run_case(
        partial(case_of, wishes.replay, str(base), wishes.only), place / "case"
    )
    print(f"the files are in {place / 'case' / 'work'}")
    print(json.dumps(report, indent=1, ensure_ascii=True))
    return 1 if report["broken"] else 0


def main() -> int:
    """Run, print the counts, and end with 1 if any promise was broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument(
        "--start", type=int, default=0, help="leave out so many files first"
    )
    parser.add_argument("--builds", type=int, default=200)
    parser.add_argument("--minutes", type=float, default=240)
    parser.add_argument("--jobs", type=int, default=1, help="cases at once")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", choices=["", *FAMILIES])
    parser.add_argument("--replay", type=int, help="the seed of one case")
    parser.add_argument("--keep", type=Path, help="where reports of broken promises go")
    wishes = parser.parse_args()
    load_kit()
    if wishes.replay is not None:
        return replay(wishes)
    print(describe(), flush=True)
    began = time.monotonic()
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        run(wishes, Path(folder), tally)
    print(f"\n{time.monotonic() - began:.0f} s, seed {wishes.seed}")
    print("\n".join(tally.lines()))
    return 1 if tally.broken else 0


if __name__ == "__main__":
    sys.exit(main())
