"""Is the last good output whole, whatever ends a build? Kills, full disks, builds at once.

    python tests/benchmarks/kills.py                    120 kills, 45 other faults
    python tests/benchmarks/kills.py --kills 20 --faults 9 --seed 7

A school of three tiny lessons, each in two versions (`kills_school`), is built with the
real command again and again. Each time one lesson changes to its other version, and then
the build is killed with all its processes, at a random moment or at one waited for
(`kills_watch`), or meets a full disk, a limit on the size of files, a place that may only
be read, or two other builds of the same lessons into the same folder. After each

* every lesson's output is whole, the old one or the new one, and no source has changed;
* the pages, the feed and the archive of the catalogue are whole;
* nothing that the build started still runs;
* the next build, with the cause gone, ends well and gives the bytes of a build with an
  empty cache into an empty folder, all links lead somewhere, and no stage that is older
  than half an hour, or from the future, is left.

At the first promise broken it stops and ends with 1 (with ``--go-on`` it counts). Mounts
take Linux and root; elsewhere those faults are left out, and the counts say so.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import psutil
from build_promises import BrokenPromiseError, require_whole, tree
from endurance import largest_file, mounted, read_only
from kills_school import SLUGS, WAIT_S, School
from kills_watch import CLEARING, MOMENTS, kill_group, killed_at, moment_of
from machine import describe

PAST_S, FUTURE_S = -1900, 86_400
"""More than the half hour for which a stage is left in peace; a clock that was wrong."""
Fault = Callable[[str], None]


class Kills(School):
    """What may happen to the builds of a school, one thing a round."""

    def round(self, kind: str) -> None:
        """Change a lesson, let something happen to its build, and check every promise."""
        slug = self.flip()
        self.counts[kind] += 1
        self.cleanly()
        sources, before = tree(self.lessons), self.outputs()
        (self.faults() | {"a kill": self.kill})[kind](slug)
        if tree(self.lessons) != sources:
            raise BrokenPromiseError("a source was changed")
        self.require_outputs(before)
        aged = self.chance.random() < 0.6
        if aged:
            self._age_leftovers()
        self.expect_done(self.command(), "the build after it")
        self.compare()
        left = [path.name for path in self._leftovers()]
        if left and aged:
            raise BrokenPromiseError(f"left over: {left}")

    def _leftovers(self) -> list[Path]:
        return [path for slug in SLUGS for path in self.at(slug).leftovers()]

    def _age_leftovers(self) -> None:
        """Make what a kill has left look old, or as if it were from the future."""
        when = time.time() + self.chance.choice((PAST_S, PAST_S, FUTURE_S))
        for left in self._leftovers():
            for path in (*left.rglob("*"), left):
                os.utime(path, (when, when), follow_symlinks=False)
            self.counts["leftovers made old or of the future"] += 1

    def kill(self, slug: str) -> None:
        """Kill a build at a random moment, or at one that is waited for."""
        moment = self.chance.choice(("", *MOMENTS))
        env = {}
        self._sometimes_empty_the_cache()
        if moment == CLEARING:
            # Nothing may stay, and nothing looks as if another build were using it.
            env["KIT_CACHE_GB"] = "0.000001"
            for path in self.cache.glob("??/*"):
                os.utime(path, (1, 1))
        at = self.at(slug)
        at.begin()
        run = self.command(**env)
        if moment:
            met = killed_at(
                run, at, moment, more=self.chance.choice((0, 0, 0, 1, 3, 10, 40))
            )
            self.counts[f"waited for: {moment}, {'met' if met else 'missed'}"] += 1
        else:
            with contextlib.suppress(subprocess.TimeoutExpired):
                run.wait(self.chance.uniform(0.2, 5))
        self._end(run)
        state = moment_of(at) if run.returncode < 0 else "after it was done"
        self.counts[f"killed: {state}"] += 1

    def _end(self, run: subprocess.Popen[str]) -> None:
        started = kill_group(run)
        run.communicate(timeout=WAIT_S)
        _, alive = psutil.wait_procs(started, timeout=30)
        if alive:
            raise BrokenPromiseError(f"still running after the kill: {alive}")

    def _sometimes_empty_the_cache(self) -> None:
        if self.chance.random() < 0.3:
            shutil.rmtree(self.cache, ignore_errors=True)

    def faults(self) -> dict[str, Fault]:
        """Name what may happen to a build besides a kill."""
        found: dict[str, Fault] = {
            "three builds at once": self.at_once,
            "files limited in size": self.limited,
        }
        if os.geteuid() == 0 and sys.platform == "linux":
            found |= {
                "cache on a full disk": self.full_cache,
                "output on a full disk": self.full_output,
                "cache read-only": lambda _: self.kept_from(self.cache),
                "output read-only": lambda _: self.kept_from(self.out),
                "records read-only": lambda _: self.kept_from(self.out / ".recipes"),
                "one output read-only": lambda slug: self.kept_from(self.out / slug),
                "lessons read-only": lambda _: self.kept_from(self.lessons),
            }
        return found

    def at_once(self, _: str) -> None:
        """Build three times at once; now and then one of them is killed."""
        runs = []
        for _ in range(3):
            runs.append(self.command())
            time.sleep(self.chance.choice((0, 0, self.chance.uniform(0, 1.5))))
        if self.chance.random() < 0.3:
            time.sleep(self.chance.uniform(0.2, 3))
            self._end(runs.pop())
        codes = [self.read(run) for run in runs]
        if any(codes):
            raise BrokenPromiseError("one of several builds at once did not end well")

    def limited(self, _: str) -> None:
        """Let no file grow beyond a size, as a quota does."""
        self._sometimes_empty_the_cache()
        with largest_file(int(10 ** self.chance.uniform(2, 6))):
            run = self.command()
        self.read(run)

    def full_cache(self, _: str) -> None:
        """Build with a cache on a disk that is full soon."""
        with self._small_disk(self.chance.randint(16, 800) * 1000) as small:
            self.read(self.command(KIT_CACHE=str(small)))

    def full_output(self, _: str) -> None:
        """Build into a disk that is full soon."""
        size = sum(path.stat().st_size for path in self.out.rglob("*") if path.is_file())
        size = int(size * self.chance.uniform(1.02, 1.6)) + 200_000
        usual = self.out
        with self._small_disk(size) as small:
            shutil.copytree(usual, small / "out", symlinks=True)
            self.out = small / "out"
            before = {slug: require_whole(self.out / slug) for slug in SLUGS}
            try:
                self.read(self.command())
                self.require_outputs(before)
            finally:
                self.out = usual

    @contextlib.contextmanager
    def _small_disk(self, size: int) -> Iterator[Path]:
        small = self.place / "small"
        small.mkdir(exist_ok=True)
        with mounted(small, "-t", "tmpfs", "-o", f"size={size}", "tmpfs"):
            yield small

    def kept_from(self, folder: Path) -> None:
        """Build where a folder may only be read."""
        self._sometimes_empty_the_cache()
        folder.mkdir(parents=True, exist_ok=True)
        with read_only(folder):
            self.read(self.command())


def main() -> int:
    """Run, print the counts, and end with 1 if a promise was broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=120)
    parser.add_argument("--faults", type=int, default=45)
    parser.add_argument("--minutes", type=float, default=120)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--go-on", action="store_true", help="count what is broken")
    parser.add_argument("--keep", type=Path, help="where to put all of it if it breaks")
    wishes = parser.parse_args()
    print(describe(), flush=True)
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        school = Kills(Path(folder) / "school", wishes.seed)
        broken = _lasting(school, wishes, began + 60 * wishes.minutes)
    print(f"{time.monotonic() - began:.0f} s, seed {wishes.seed}, {broken} broken")
    for name, count in sorted(school.counts.items()):
        print(f"{count:6} {name}")
    for link in sorted(school.lost_links):
        print(f"BROKEN, leads nowhere: {link}")
    return 1 if broken or school.lost_links else 0


def _lasting(school: Kills, wishes: argparse.Namespace, end: float) -> int:
    """Do the rounds in random order; give how many broke a promise."""
    faults = list(school.faults())
    rounds = ["a kill"] * wishes.kills
    rounds += [faults[place % len(faults)] for place in range(wishes.faults)]
    school.chance.shuffle(rounds)
    broken = 0
    for place, kind in enumerate(rounds):
        if time.monotonic() > end:
            break
        try:
            school.round(kind)
        except BrokenPromiseError as error:
            broken += 1
            print(
                f"BROKEN in round {place}, seed {wishes.seed}, {kind}: {error}", flush=True
            )
            if wishes.keep and broken == 1:
                shutil.copytree(school.place, wishes.keep, symlinks=True)
            if not wishes.go_on:
                break
            # From a clean beginning, so that one fault is counted once.
            shutil.rmtree(school.out, ignore_errors=True)
            school.expect_done(school.command(), "the build after a broken promise")
        if sys.stderr.isatty():
            print(f"\r{place + 1:6} rounds", end="", file=sys.stderr)
    return broken


if __name__ == "__main__":
    sys.exit(main())
