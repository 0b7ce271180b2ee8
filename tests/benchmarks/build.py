"""How long does a build take: from nothing, after a change, and with nothing changed?

    python tests/benchmarks/build.py              both ways of working, about ten minutes
    python tests/benchmarks/build.py --no-plain   the kit alone, about two minutes
    python tests/benchmarks/build.py --all-mixes  every mix at every tempo of the lesson

Builds a copy of demo lesson 1 with the ``kit`` command into a fresh folder with a fresh
cache, then changes one thing at a time, each time starting from the finished build with its
cache. In the same run the plain pipeline of ``plain.py`` makes the parts, handouts and
audio that the build's manifest lists, in one process and in as many as the kit uses.

"Command to prompt" is from starting the program to its end, start-up included. Shares in
brackets are of the cold build; those of processor time hold on a busy machine too.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from machine import Run, describe, run_program

from kit.sound.mix_names import mix_names

ROOT = Path(__file__).resolve().parents[2]
SLUG = "lamplighters-detour"
PACKAGES = ("music21", "verovio", "typst", "nbconvert", "playwright")
UNCHANGED_TIMES = 5


@dataclass(frozen=True, slots=True)
class Bench:
    """A place of its own: lessons, output and cache below one folder."""

    folder: Path
    workers: int

    @property
    def lesson(self) -> Path:
        return self.folder / "now" / "lessons" / SLUG

    def build(self, *, sampled: bool = False) -> Run:
        """Build the lesson as it is now."""
        now = self.folder / "now"
        return run_program(
            [Path(sys.executable).with_name("kit"), "build", self.lesson,
             "--out", now / "out", "--jobs", str(self.workers)],
            env={"KIT_CACHE": str(now / "cache")}, cwd=now, log=self.folder / "log",
            sampled=sampled,
        )  # fmt: skip

    def files(self) -> dict[str, str]:
        """Give the hash of each file of the output."""
        return {file["path"]: file["sha256"] for file in self.manifest()["files"]}

    def manifest(self) -> dict:
        return json.loads(self.manifest_path.read_text(encoding="utf-8"))

    @property
    def manifest_path(self) -> Path:
        return self.folder / "now" / "out" / SLUG / "manifest.json"

    def keep(self) -> None:
        """Remember the state as it is now."""
        shutil.copytree(self.folder / "now", self.folder / "kept")

    def restore(self) -> None:
        """Go back to the state remembered."""
        shutil.rmtree(self.folder / "now")
        shutil.copytree(self.folder / "kept", self.folder / "now")


def changed(path: Path, pattern: str, by: str) -> None:
    """Replace the one place of a file that a pattern finds.

    Raises
    ------
    ValueError
        If there is not exactly one.
    """
    text, count = re.subn(pattern, by, path.read_text(encoding="utf-8"), flags=re.S)
    if count != 1:
        raise ValueError(f"{path.name}: {count} places for {pattern!r}")
    path.write_text(text, encoding="utf-8")


def edit_of_a_level(lesson: Path) -> None:
    """Let the long note of bar 20 be struck twice instead of three times."""
    path = lesson / "levels" / "intermediate.toml"
    changed(path, r'(bar = 20, beat = 1, do = "repeat", times = )3', r"\g<1>2")


def note_of_a_level(lesson: Path) -> None:
    """Write G for the last note, F, of bar 18 at the advanced level."""
    path = lesson / "levels" / "advanced.musicxml"
    changed(path, r'(<note id="b17n5">\s*<pitch>\s*<step>)F', r"\g<1>G")


def note_of_the_tune(lesson: Path) -> None:
    """Write G for the last note, F, of bar 18."""
    path = lesson / "tune.musicxml"
    changed(path, r'(<note id="b17n2">\s*<pitch>\s*<step>)F', r"\g<1>G")


def prose(lesson: Path) -> None:
    """Change a word of the second paragraph."""
    changed(lesson / "lesson.ipynb", "Sing it before you play it", "Sing it first")


def comment(lesson: Path) -> None:
    """Change nothing but a comment."""
    path = lesson / "lesson.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + "# Looked at again.\n", encoding="utf-8")


CHANGES: tuple[tuple[str, Callable[[Path], None]], ...] = (
    ("one edit in the bridge of the intermediate level", edit_of_a_level),
    ("one note in the bridge of the advanced level", note_of_a_level),
    ("one note in the bridge of the tune", note_of_the_tune),
    ("a word in one cell of the notebook", prose),
    ("a comment in lesson.toml", comment),
)


def every_mix(lesson: Path) -> None:
    """Ask for all mixes, each of them at every tempo."""
    names = ", ".join(f'"{name}"' for name in mix_names())
    path = lesson / "lesson.toml"
    changed(path, r"mixes = \[[^]]*\]", f"mixes = [{names}]\ntempo_mixes = [{names}]")


def report(name: str, run: Run, cold: Run) -> None:
    """Print a build and its shares of the cold one."""
    print(
        f"{name:48} {run.wall_s:6.1f} s ({100 * run.wall_s / cold.wall_s:3.0f} %), "
        f"{run.processor_s:6.1f} s of processor "
        f"({100 * run.processor_s / cold.processor_s:3.0f} %)"
    )


def cold_build(bench: Bench) -> Run:
    """Build from nothing and print it."""
    run = bench.build(sampled=True)
    report("cold build", run, run)
    files = bench.manifest()["files"]
    size_mb = sum(file["bytes"] for file in files) / 1e6
    print(
        f"  {len(files)} files, {size_mb:.0f} MB; {run.processes} processes, together at "
        f"most {run.sum_mb:.0f} MB, the largest {run.largest_mb:.0f} MB"
    )
    return run


def unchanged_builds(bench: Bench) -> None:
    """Build again and again with nothing changed, and print the times."""
    spent = sorted(bench.build().wall_s for _ in range(UNCHANGED_TIMES))
    print(
        f"{'nothing changed, command to prompt':48} median "
        f"{statistics.median(spent):.2f} s, {spent[0]:.2f} to {spent[-1]:.2f} s"
    )


def changes(bench: Bench, cold: Run) -> None:
    """Make each change by itself, build, and print what it took."""
    before = bench.files()
    for name, change in CHANGES:
        bench.restore()
        change(bench.lesson)
        run = bench.build()
        after = bench.files()
        report(name, run, cold)
        other = sum(before.get(path) != digest for path, digest in after.items())
        print(f"  {other} of {len(after)} files differ from those of the build before")


def plain(bench: Bench, cold: Run, workers: int, share: float) -> None:
    """Run the plain pipeline on what the build has made, print it and the ratio."""
    log = bench.folder / "plain"
    lesson, manifest = bench.folder / "kept" / "lessons" / SLUG, bench.manifest_path
    run = run_program(
        [sys.executable, ROOT / "tests/benchmarks/plain.py", lesson,
         "--manifest", manifest, "--workers", str(workers), "--share", str(share)],
        env={"KIT_CACHE": str(bench.folder / f"plain-cache-{workers}"),
             "PYTHONPATH": str(ROOT)},
        cwd=bench.folder, log=log, sampled=True,
    )  # fmt: skip
    text = log.read_text(encoding="utf-8")
    found = re.search(r"(?m)^whole plain pipeline.*: ([\d.]+) s$", text)
    if found is None:
        raise RuntimeError(f"the plain pipeline printed no time:\n{text}")
    lines = text[: found.end()].splitlines()
    for line in lines[-5:]:
        print(f"  {line}")
    print(
        f"  {run.processor_s:.0f} s of processor; together at most {run.sum_mb:.0f} MB, "
        f"the largest process {run.largest_mb:.0f} MB\n"
        f"plain pipeline in {workers} / cold build: {float(found[1]) / cold.wall_s:.1f} x"
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    cores = os.cpu_count() or 1
    parser.add_argument("--workers", type=int, default=cores, help="of kit and plain")
    parser.add_argument("--no-plain", action="store_true", help="the kit alone")
    parser.add_argument("--share", type=float, default=1.0, help="of the plain pipeline")
    parser.add_argument("--all-mixes", action="store_true", help="all, at all tempos")
    asked = parser.parse_args()
    print(describe(PACKAGES, () if asked.no_plain else ("fluidsynth", "ffmpeg")))
    print(f"kit with {asked.workers} workers\n")
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), asked.workers)
        shutil.copytree(ROOT / "lessons", bench.folder / "now" / "lessons")
        if asked.all_mixes:
            every_mix(bench.lesson)
        cold = cold_build(bench)
        bench.keep()
        unchanged_builds(bench)
        if not asked.no_plain:
            bench.restore()
            for workers in dict.fromkeys((1, asked.workers)):
                plain(bench, cold, workers, asked.share)
        changes(bench, cold)
    return 0


if __name__ == "__main__":
    sys.exit(main())
