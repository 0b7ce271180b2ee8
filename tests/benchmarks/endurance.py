"""Does a build survive everything? Thousands of rebuilds with edits, faults and kills.

    python tests/benchmarks/endurance.py                     2,000 rebuilds or an hour
    python tests/benchmarks/endurance.py --rebuilds 200 --seed 7

A school of three tiny lessons (`edits_at_random`) is built again and again. Before each
build something is edited, or something goes wrong: see `Endurance.rounds`. After each build
is checked (`build_promises`) that

* every output folder is whole: each file of the manifest is there with its hash, and
  nothing else;
* a build that failed said why in one sentence and left the last good output as it was, and
  the build after it, with the cause gone, succeeds;
* the same files give the same bytes as the last time they were built (edits are undone now
  and then), and for every few rounds the same bytes as a build with an empty cache.

At the first promise broken it stops, says which with the seed, and ends with 1. Most builds
run in this process, where the notebook's one-line calls are read instead of run in a
kernel; the killed, the strange environments and a share of the others are the real command.
Read-only and full disks are mounted, which takes Linux and root; elsewhere they are left
out, and the counts say so.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from copy import deepcopy
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import psutil
from build_promises import (
    SLUGS,
    BrokenPromiseError,
    Here,
    WatchedSchool,
    require_whole,
    tree,
)
from edits_at_random import edit
from machine import describe

from kit.build import _work as work
from kit.build.execute import read_notebook
from kit.build.workers import LocalWorkers
from kit.figures.figure import FIGURE_MIME

PLACES = (
    {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "1"},
    {"TZ": "America/St_Johns", "LC_ALL": "tr_TR.UTF-8", "PYTHONHASHSEED": "77"},
    {"TZ": "UTC", "LC_ALL": "POSIX", "PYTHONHASHSEED": "random"},
)


def read_calls(path: Path, *, source: str) -> Any:
    """Give a notebook as if it had run, from what its one-line calls say."""
    notebook = read_notebook(path, source=source)
    tune = (path.parent / "tune.abc").read_text(encoding="utf-8")
    own_key = tune.partition("K:")[2][:1]
    for cell in notebook.cells:
        if cell.cell_type == "code" and cell.source.startswith("kit."):
            call: Any = ast.parse(cell.source, mode="eval").body
            options = {word.arg: ast.literal_eval(word.value) for word in call.keywords}
            if options.get("key") == own_key:
                # In its own key it is the excerpt that it is without.
                del options["key"]
            show = call.func.attr.replace("_", "-")
            data = {FIGURE_MIME: {"version": 1, "show": show, **options}}
            cell.outputs = [{"output_type": "display_data", "metadata": {}, "data": data}]
    return notebook


@contextlib.contextmanager
def mounted(folder: Path, *options: str) -> Iterator[None]:
    """Mount something onto a folder for a while."""
    subprocess.run(["mount", *options, str(folder)], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@contextlib.contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Make a folder read-only even for root."""
    with mounted(folder, "--bind", str(folder)):
        subprocess.run(["mount", "-o", "remount,bind,ro", str(folder)], check=True)
        yield


@contextlib.contextmanager
def largest_file(size: int) -> Iterator[None]:
    """Let no file grow beyond a size, as a quota does."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


class Endurance(WatchedSchool):
    """What may go wrong with a watched school, one thing a round."""

    def __init__(self, place: Path, seed: int) -> None:
        super().__init__(place, seed)
        self.workers = LocalWorkers(2)
        self.done: list[str] = []

    def round(self) -> None:
        """Do one thing to one lesson, build it, and check every promise."""
        self.slug = self.chance.choice(SLUGS)
        kinds = list(self.rounds())
        kind = self.chance.choices(kinds, [self.rounds()[one][1] for one in kinds])[0]
        self.counts[f"round: {kind}"] += 1
        self.done = [self.slug, kind]
        self.rounds()[kind][0]()

    def rounds(self) -> dict[str, tuple[Callable[[], None], int]]:
        """Name what a round can be, with how often it is chosen."""
        may_mount = os.geteuid() == 0 and sys.platform == "linux"
        return {
            "edit": (self.edited, 50),
            "undo": (self.undone, 12),
            "touch": (self.touched, 3),
            "cache entries damaged or removed": (self.damaged, 10),
            "the same during a build": (self.damaged_during, 8),
            "output files removed": (self.output_removed, 4),
            "a file saved during a build": (self.saved_during, 8),
            "files limited in size": (self.limited, 5),
            "cache on a full disk": (self.full_cache, 2 * may_mount),
            "output on a full disk": (self.full_output, 2 * may_mount),
            "cache read-only": (lambda: self.kept_from(self.cache), 3 * may_mount),
            "output read-only": (lambda: self.kept_from(self.out), 3 * may_mount),
            "lessons read-only": (self.lessons_read_only, 2 * may_mount),
            "real processes": (self.real_processes, 3),
            "all killed": (lambda: self.killed(everything=True), 3),
            "a worker killed": (lambda: self.killed(everything=False), 3),
            "another time zone, language, seed and folder": (self.elsewhere, 2),
        }

    # What a round does.

    def edited(self) -> None:
        for _ in range(self.chance.choice((1, 1, 1, 2, 3))):
            name = edit(self.chance, self.drafts[self.slug])
            self.done.append(name)
            self.counts[f"edit: {name}"] += 1
        self.attempt()

    def undone(self) -> None:
        if self.past[self.slug]:
            self.drafts[self.slug] = deepcopy(self.chance.choice(self.past[self.slug]))
        self.attempt()

    def touched(self) -> None:
        for path in self.folder.rglob("*"):
            os.utime(path, (1, self.chance.randint(1, 2_000_000_000)))
        self.attempt()

    def damaged(self) -> None:
        self.damage()
        if self.chance.random() < 0.5:
            shutil.rmtree(self.output)
        else:
            edit(self.chance, self.drafts[self.slug])
        self.attempt()

    def damaged_during(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        if self.chance.random() < 0.5:
            shutil.rmtree(self.output)
        when = self.chance.randint(1, 12)

        def sometimes() -> None:
            nonlocal when
            when -= 1
            if when == 0:
                self.damage()

        self.attempt(Here(sometimes), may_fail=True)
        self.heal()

    def output_removed(self) -> None:
        files = sorted(path for path in self.output.rglob("*") if path.is_file())
        for path in self.chance.sample(files, self.chance.randint(1, len(files))):
            path.unlink()
        if self.output.joinpath("manifest.json").is_file() or not tree(self.output):
            self.attempt()
            return
        # Without its manifest a folder is anybody's: refused until it is moved away.
        draft, before = deepcopy(self.drafts[self.slug]), tree(self.output)
        if self.attempt(may_fail=True) or tree(self.output) != before:
            raise BrokenPromiseError("a folder without a manifest was replaced")
        shutil.rmtree(self.output)
        self.drafts[self.slug] = draft
        self.attempt()

    def saved_during(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        before, later = (deepcopy(self.drafts[self.slug]) for _ in range(2))
        edit(self.chance, later)
        when = self.chance.randint(1, 15)

        def save() -> None:
            nonlocal when
            when -= 1
            if when == 0:
                later.write(self.folder)

        if self.attempt(Here(save), may_fail=True, knows=False):
            require_whole(self.output)
        # Kept, or undone: either way the next build must give what these files give.
        self.drafts[self.slug] = self.chance.choice((before, later))
        self.attempt()

    def limited(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        self.drafts[self.slug].write(self.folder)
        with largest_file(int(10 ** self.chance.uniform(2, 6))):
            # What to compare with may need larger files than one edit: healing compares.
            self.attempt(may_fail=True, writes=False, knows=False)
        self.heal()

    def full_cache(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        small = self.place / "small"
        small.mkdir(exist_ok=True)
        size = self.chance.randint(16, 800)
        with mounted(small, "-t", "tmpfs", "-o", f"size={size}k", "tmpfs"):
            os.environ["KIT_CACHE"] = str(small)
            try:
                self.attempt(may_fail=True)
            finally:
                os.environ["KIT_CACHE"] = str(self.cache)
        self.heal()

    def full_output(self) -> None:
        before = tree(self.output)
        size = sum(path.stat().st_size for path in self.output.rglob("*"))
        room = int(size * self.chance.uniform(1.05, 2.3)) + 200_000
        small, usual = self.place / "small", self.out
        small.mkdir(exist_ok=True)
        edit(self.chance, self.drafts[self.slug])
        with mounted(small, "-t", "tmpfs", "-o", f"size={room}", "tmpfs"):
            shutil.copytree(self.output, small / self.slug)
            if tree(small / self.slug) != before:
                raise OSError("the copy did not fit")
            self.out = small
            try:
                self.attempt(may_fail=True)
            finally:
                self.out = usual
        self.heal()

    def kept_from(self, folder: Path) -> None:
        if self.chance.random() < 0.7:
            edit(self.chance, self.drafts[self.slug])
        with read_only(folder):
            self.attempt(may_fail=True)
        self.heal()

    def lessons_read_only(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        self.drafts[self.slug].write(self.folder)
        with read_only(self.lessons):
            self.attempt(writes=False)

    def real_processes(self) -> None:
        edit(self.chance, self.drafts[self.slug])
        self.attempt(self.workers)

    def killed(self, *, everything: bool) -> None:
        edit(self.chance, self.drafts[self.slug])
        self.drafts[self.slug].write(self.folder)
        before = require_whole(self.output)
        run = self.command(self.out)
        # Most builds of so small a lesson take two to four seconds.
        time.sleep(self.chance.uniform(0.3, 5))
        if everything:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(run.pid, signal.SIGKILL)
        else:
            # Not Python's own tracker of resources, which does no work.
            workers = [
                process
                for process in psutil.Process(run.pid).children(recursive=True)
                if any(name in _words(process) for name in ("spawn_main", "ipykernel"))
            ]
            self.counts["killed: a process of the build"] += bool(workers)
            with contextlib.suppress(psutil.NoSuchProcess):
                if workers:
                    self.chance.choice(workers).kill()
        _, said = run.communicate(timeout=200)
        self.counts[f"killed: the command ended with {run.returncode}"] += 1
        if not everything:
            self.read(run.returncode, said)
        if not self.output.is_dir():
            self.counts["killed: between the two renames"] += 1
        elif run.returncode != 0 and require_whole(self.output) != before:
            # The rename was done, and something after it was not.
            self.counts["killed: just after the output was in place"] += 1
        self.heal()

    def elsewhere(self) -> None:
        self.attempt()
        place = Path(tempfile.mkdtemp(dir=self.place))
        env = self.chance.choice(PLACES)
        run = self.command(place / "out", cwd=place, KIT_CACHE=str(place / "cache"), **env)
        _, said = run.communicate(timeout=200)
        self.read(run.returncode, said)
        if run.returncode == 0:
            self.same(require_whole(place / "out" / self.slug), tree(self.output), str(env))
        shutil.rmtree(place)

    # How it is done.

    def command(
        self, out: Path, cwd: Path | None = None, **env: str
    ) -> subprocess.Popen[str]:
        """Start the real command on the lesson, as a group of processes."""
        return subprocess.Popen(
            [sys.executable, "-m", "kit", "build", str(self.folder), "--out", str(out)],
            cwd=cwd or self.place, env={**os.environ, **env}, stderr=subprocess.PIPE,
            stdout=subprocess.DEVNULL, text=True, encoding="utf-8", errors="replace",
            start_new_session=True,
        )  # fmt: skip

    def damage(self) -> None:
        """Damage or remove some entries of the cache."""
        entries = sorted(path for path in self.cache.glob("??/*") if path.is_file())
        many = self.chance.choice((1, 3, 10, 100))
        for path in self.chance.sample(entries, min(len(entries), many)):
            self.counts["entries of the cache damaged or removed"] += 1
            size = path.stat().st_size
            kind = self.chance.randrange(3)
            if kind == 0 or not size:
                path.unlink()
            elif kind == 1:
                os.truncate(path, self.chance.randrange(size))
            else:
                with path.open("r+b") as file:
                    file.seek(self.chance.randrange(size))
                    file.write(b"\xff\x00")


def _words(process: psutil.Process) -> str:
    try:
        return " ".join(process.cmdline())
    except psutil.Error:
        # It has just ended.
        return ""


def main() -> None:
    """Run, print the counts, and end with 1 at the first promise broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rebuilds", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="where to put all of it if it breaks")
    wishes = parser.parse_args()
    print(describe(), flush=True)
    work.executed_notebook = read_calls
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        run = Endurance(Path(folder) / "school", wishes.seed)
        with run.workers:
            code = _lasting(run, wishes.rebuilds, began + 60 * wishes.minutes, wishes.seed)
        if code and wishes.keep:
            shutil.copytree(run.place, wishes.keep)
    print(f"{time.monotonic() - began:.0f} s, seed {wishes.seed}")
    for name, count in sorted(run.counts.items()):
        print(f"{count:6} {name}")
    sys.exit(code)


def _lasting(run: Endurance, rebuilds: int, end: float, seed: int) -> int:
    try:
        run.begin()
        while run.counts["rebuilds"] < rebuilds and time.monotonic() < end:
            run.round()
            print(f"\r{run.counts['rebuilds']:6} rebuilds", end="", file=sys.stderr)
    except BrokenPromiseError as error:
        print(f"BROKEN after {run.counts['rebuilds']} rebuilds, seed {seed}, {run.done}:")
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    main()
