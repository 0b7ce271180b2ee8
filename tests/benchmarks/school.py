"""Does the kit stay quick from one lesson to a whole school? Builds one and measures.

    python tests/benchmarks/school.py --lessons 60 [--folder DIR] [--mixes backing]
    python tests/benchmarks/school.py                    500 lessons; takes an hour or more

The school is made by ``school_maker.py`` and built by one ``kit build`` command that is
given all lessons, with a cache of its own that is empty at first. Printed are, in steps of
the lessons done: lessons and files a minute, the most memory that the command and its
workers had in use together, and the largest single process (resident pages; what processes
share counts for each). Then follow what was refused, the same command with nothing changed,
the catalogue, its search in Chromium, and what it all comes to for 10,000 lessons.

The default is realistic but affordable: per lesson one to three levels, four to nine
instruments, one paper size, one backing track a level at one tempo. ``--mixes
demo,backing,melody`` makes what a lesson makes that says nothing; there is no lesson
without any audio, ``--mixes click`` is the least.

With ``--folder`` school, output and cache stay there; what is built already is then left
out, so give a folder of its own to each measurement.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import mean

import numpy as np
import psutil
from catalogue_search import chromium, loaded_ms, searched, write_seconds
from school_maker import Source, kind_of, make_school
from scipy.optimize import nnls

from kit.publish.catalogue.site import catalogue_html

STEPS = (10, 50, 100, 200, 500, 1000, 2000)
SAMPLE_S = 0.3
DONE = re.compile(r"(\S+) (built|is up to date): (\d+) files in ")
STEP_LINE = re.compile(r": \d+ steps$|: \d+/\d+ ")
FIT_FROM = 20
BIG_SCHOOL, BIG_HORNS = 10_000, 12


@dataclass(slots=True)
class Memory:
    """The most memory seen since the last look, in megabytes."""

    tree_mb: float = 0.0
    process_mb: float = 0.0

    def see(self, root: psutil.Process) -> None:
        """Add up what a process and its children have in use."""
        try:
            family = (root, *root.children(recursive=True))
            sizes = [process.memory_info().rss / 1e6 for process in family]
        except psutil.NoSuchProcess:
            return  # one ended while being looked at; the next sample has the rest
        self.tree_mb = max(self.tree_mb, sum(sizes))
        self.process_mb = max(self.process_mb, *sizes)


@dataclass(slots=True)
class Watched:
    """What a build told, and when: seconds since it began."""

    done: list[tuple[str, int, float]] = field(default_factory=list)
    memory: list[Memory] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    made: int = 0
    seconds: float = 0.0


def built(folders: Sequence[Path], out: Path, cache: Path) -> Watched:
    """Run one ``kit build`` on all lessons and watch it."""
    command = [sys.executable, "-c", "from kit.cli import main; main()", "build"]
    start = time.monotonic()
    process = subprocess.Popen(
        [*command, *map(str, folders), "--out", str(out)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, encoding="utf-8",
        env=os.environ | {"KIT_CACHE": str(cache), "PYTHONIOENCODING": "utf-8"},
    )  # fmt: skip
    watched = Watched()
    now = Memory()
    root = psutil.Process(process.pid)

    def sample() -> None:
        while process.poll() is None:
            now.see(root)
            time.sleep(SAMPLE_S)

    def hear() -> None:
        for line in process.stderr or ():
            if not STEP_LINE.search(line):
                watched.complaints.append(line.strip())

    threads = [threading.Thread(target=run, daemon=True) for run in (sample, hear)]
    for thread in threads:
        thread.start()
    for line in process.stdout or ():
        found = DONE.match(line)
        if found is None:
            continue
        watched.done.append((found[1], int(found[3]), time.monotonic() - start))
        watched.made += found[2] == "built"
        if len(watched.done) in STEPS:
            watched.memory.append(Memory(now.tree_mb, now.process_mb))
            minutes = watched.done[-1][2] / 60
            print(
                f"{len(watched.done)} lessons after {minutes:.1f} minutes",
                file=sys.stderr,
                flush=True,
            )
            now.tree_mb = now.process_mb = 0.0
    for thread in threads:
        thread.join()
    if len(watched.done) not in STEPS:
        watched.memory.append(now)
    watched.seconds = time.monotonic() - start
    if not watched.done:
        raise SystemExit("nothing was built:\n" + "\n".join(watched.complaints[:5]))
    return watched


def report_steps(watched: Watched) -> None:
    """Print rates and memory, a line a step, and how flat they are."""
    ends = [step for step in STEPS if step < len(watched.done)] + [len(watched.done)]
    rates: list[tuple[float, float]] = []
    first, began_s = 0, 0.0
    for end, memory in zip(ends, watched.memory, strict=True):
        rows = watched.done[first:end]
        minutes = (rows[-1][2] - began_s) / 60
        rates.append((len(rows) / minutes, sum(row[1] for row in rows) / minutes))
        print(
            f"  lessons {first + 1:4} to {end:4}: {rates[-1][0]:6.1f} lessons, "
            f"{rates[-1][1]:7.1f} files a minute; memory {memory.tree_mb:5.0f} MB in all, "
            f"largest process {memory.process_mb:4.0f} MB"
        )
        first, began_s = end, rows[-1][2]
    if len(rates) > 1:
        print(
            f"  last step to first: {rates[-1][0] / rates[0][0]:.2f} x in lessons, "
            f"{rates[-1][1] / rates[0][1]:.2f} x in files, "
            f"{watched.memory[-1].tree_mb / watched.memory[0].tree_mb:.2f} x in memory"
        )


def report_complaints(watched: Watched, wanted: int) -> None:
    """Print what was refused or warned of, equal sentences counted."""
    print(f"  refused: {wanted - len(watched.done)} of {wanted} lessons")
    counts: Counter[str] = Counter()
    examples: dict[str, str] = {}
    for line in watched.complaints:
        if "besides; kit check tells" in line:
            continue
        severity = "error" if line.startswith("kit: ") else line.split(":")[0]
        kind = (
            f"{severity}: {kind_of(line.removeprefix('kit: ').removeprefix('warning: '))}"
        )
        counts[kind] += 1
        examples.setdefault(kind, line)
    for kind, count in counts.most_common(25):
        print(f"    {count:4} {examples[kind][:200] if count == 1 else kind}")


@dataclass(frozen=True, slots=True)
class Cost:
    """What a lesson holds, and how long it took."""

    seconds: float
    sheets: int
    audio_s: float
    files: Counter[str]
    bytes: int


def costs(watched: Watched, out: Path) -> list[Cost]:
    """Read from the manifests what each lesson of the build holds."""
    found = []
    before_s = 0.0
    for slug, _, done_s in watched.done:
        data = json.loads((out / slug / "manifest.json").read_text(encoding="utf-8"))
        files = data["files"]
        found.append(
            Cost(
                done_s - before_s,
                len(data["levels"]) * len(data["instruments"]),
                sum(file.get("seconds", 0) for file in files if file["kind"] == "audio"),
                Counter(file["kind"] for file in files),
                sum(file["bytes"] for file in files),
            )
        )
        before_s = done_s
    return found


def report_big_school(found: Sequence[Cost], write_s: float, page_bytes: int) -> None:
    """Print what 10,000 lessons for 12 instruments come to, with the assumptions."""
    cores = os.cpu_count() or 1
    total: Counter[str] = Counter()
    for cost in found:
        total.update(cost.files)
    each = ", ".join(f"{n / len(found):.1f} {kind}" for kind, n in total.most_common())
    print(f"  files a lesson: {each}")
    # The first lesson also starts the workers.
    rows = found[1:]
    if len(rows) < FIT_FROM:
        print(f"  too few lessons to tell what a sheet costs; build {FIT_FROM + 1} or more")
        return
    parts = np.array([(1.0, cost.sheets, cost.audio_s) for cost in rows])
    (base, sheet, audio), _ = nnls(parts, np.array([cost.seconds for cost in rows]))
    levels = mean(cost.sheets for cost in found) / mean_horns(found)
    lesson_s = base + sheet * BIG_HORNS * levels + audio * mean(c.audio_s for c in found)
    print(
        f"  a lesson takes {base:.2f} s + {sheet:.3f} s a sheet (level and instrument: "
        f"part and handout) + {1000 * audio:.1f} ms a second of audio (least squares over "
        f"{len(rows)} lessons, none below zero)"
    )
    grown = BIG_HORNS / mean_horns(found)
    made = {kind: n * (grown if kind in SHEETS else 1) for kind, n in total.items()}
    files = sum(made.values()) / len(found) * BIG_SCHOOL
    size = mean(cost.bytes for cost in found) * BIG_SCHOOL
    print(
        f"  {BIG_SCHOOL:,} lessons x {BIG_HORNS} instruments: {files / 1e6:.2f} million "
        f"files, {lesson_s * BIG_SCHOOL / 3600:.0f} h on these {cores} cores "
        f"({lesson_s * BIG_SCHOOL * cores / 3600:.0f} core hours; one night of 10 h takes "
        f"{lesson_s * BIG_SCHOOL * cores / 36000:.0f} cores), "
        f"at least {size / 1e9:.0f} GB; catalogue "
        f"{write_s * BIG_SCHOOL / len(found):.1f} s, "
        f"{page_bytes * BIG_SCHOOL / len(found) / 1e6:.0f} MB a page"
    )
    print(
        f"    assumed: rates as flat as above; levels and audio as here ({levels:.1f} "
        f"levels, {mean(c.audio_s for c in found):.0f} s of audio a lesson); sheets and "
        "their files grow with the instruments, the rest with the lessons; pages and "
        "bundles are counted at today's size, though they grow with the instruments; "
        "cores add up"
    )


SHEETS = ("handout", "part")


def mean_horns(found: Sequence[Cost]) -> float:
    """Give the instruments a level has on average, from handouts and levels."""
    levels = sum(cost.files["timing"] for cost in found)
    return sum(cost.sheets for cost in found) / levels


def report_catalogue(out: Path) -> float:
    """Print what the catalogue costs and how quick its search is; give its seconds."""
    _, again_s = write_seconds(out)
    for path in (out / "index.html", out / "public/index.html", out / "free-site.zip"):
        path.unlink()
    first_s, _ = write_seconds(out)
    index = out / "index.html"
    print(
        f"Catalogue: written in {first_s:.2f} s of processor, again in {again_s:.2f} s "
        f"with nothing changed; the page has {index.stat().st_size / 1e6:.2f} MB"
    )
    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        load_ms = loaded_ms(page, index.as_uri())
        times = searched(page, index.as_uri())
        page.close()
    print(f"  loaded in {load_ms:.0f} ms; {len(times.shown)} searches, {times}")
    return first_s


def measure(root: Path, lessons: int, mixes: Sequence[str]) -> None:
    """Make, build and look at a school below a folder."""
    school, out, cache = root / "lessons", root / "build", root / "cache"
    sources: list[Source] = make_school(school, lessons, mixes=mixes)
    folders = [school / source.slug for source in sources]
    print(f"Building {len(folders)} lessons, mixes: {', '.join(mixes)}", flush=True)
    watched = built(folders, out, cache)
    files = sum(row[1] for row in watched.done)
    print(
        f"  {len(watched.done)} lessons, {files} files in {watched.seconds / 60:.1f} min: "
        f"{60 * len(watched.done) / watched.seconds:.1f} lessons, "
        f"{60 * files / watched.seconds:.0f} files a minute"
    )
    report_steps(watched)
    report_complaints(watched, len(folders))
    found = costs(watched, out)
    good = [school / slug for slug, _, _ in watched.done]
    again = built(good, out, cache)
    print(
        f"  the same again, nothing changed: {again.seconds:.1f} s, {again.made} lessons "
        "built (more than 0: the kit's own files were changed meanwhile)"
    )
    write_s = report_catalogue(out)
    print("Extrapolation")
    frame = len(catalogue_html([], link="{}", has_feed=False).encode())
    report_big_school(found, write_s, (out / "index.html").stat().st_size - frame)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lessons", type=int, default=500)
    parser.add_argument("--folder", type=Path, help="keeps school, output and cache")
    parser.add_argument("--mixes", default="backing", help="separated by commas")
    options = parser.parse_args()
    cores, gigabytes = os.cpu_count(), psutil.virtual_memory().total / 1e9
    print(f"{platform.platform()}, {cores} cores, {gigabytes:.0f} GB, ", end="")
    print(f"Python {platform.python_version()}; load {os.getloadavg()[0]:.1f}", flush=True)
    mixes = options.mixes.split(",")
    if options.folder:
        measure(options.folder, options.lessons, mixes)
    else:
        with tempfile.TemporaryDirectory() as folder:
            measure(Path(folder), options.lessons, mixes)
    return 0


if __name__ == "__main__":
    sys.exit(main())
