"""Does a build survive everything? Thousands of rebuilds with edits, faults and kills.

    python tests/benchmarks/endurance.py                     2,000 rebuilds or an hour
    python tests/benchmarks/endurance.py --rebuilds 200 --seed 7

A school of three tiny lessons (`edits_at_random`) is built again and again. Before each
build something is edited, or something goes wrong: see `Endurance.rounds`. After each build
is checked that

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
import hashlib
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import psutil
from edits_at_random import Draft, edit, first_draft
from machine import describe

from kit.errors import KitError, LessonError
from kit.figures import FIGURE_MIME
from kit.publish import jobs
from kit.publish.build import build_lesson
from kit.publish.crew import LocalCrew
from kit.publish.execute import read_notebook

SLUGS = ("small-tune", "Ωδή a\u0300 夕べ", "שיר 🎷")
MARK = "_mime_"
COMPARED_EACH = 8
PLACES = (
    {"TZ": "Pacific/Kiritimati", "LC_ALL": "C", "PYTHONHASHSEED": "1"},
    {"TZ": "America/St_Johns", "LC_ALL": "tr_TR.UTF-8", "PYTHONHASHSEED": "77"},
    {"TZ": "UTC", "LC_ALL": "POSIX", "PYTHONHASHSEED": "random"},
)


class BrokenPromiseError(Exception):
    """Something a build must never do."""


class Here:
    """A crew that does each call at once, in this process; `before` is called first."""

    breakdowns: tuple[type[BaseException], ...] = ()
    workers = 1

    def __init__(self, before: Callable[[], None] = lambda: None) -> None:
        self.before = before

    def prepare(self) -> None:
        return

    def submit(self, call: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.before()
        future: Future[Any] = Future()
        try:
            future.set_result(call(*args, **kwargs))
        except (KitError, OSError) as error:
            future.set_exception(error)
        return future

    def __enter__(self) -> Here:
        return self

    def __exit__(self, *_: object) -> None:
        return


class Silent:
    """Progress that nobody sees."""

    def start(self, title: str, steps: int) -> None:
        return

    def step(self, title: str, left_s: float | None = None) -> None:
        return


def read_calls(path: Path, *, source: str) -> Any:
    """Give a notebook as if it had run, from what its one-line calls say."""
    notebook = read_notebook(path, source=source)
    for cell in notebook.cells:
        if cell.cell_type == "code" and cell.source.startswith("kit."):
            call: Any = ast.parse(cell.source, mode="eval").body
            options = {word.arg: ast.literal_eval(word.value) for word in call.keywords}
            show = call.func.attr.replace("_", "-")
            data = {FIGURE_MIME: {"version": 1, "show": show, **options}}
            cell.outputs = [{"output_type": "display_data", "metadata": {}, "data": data}]
    return notebook


def tree(folder: Path) -> dict[str, str]:
    """Hash every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def require_whole(out: Path) -> dict[str, str]:
    """Make sure that an output folder is what its manifest says; give its hashes."""
    found = tree(out)
    try:
        manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BrokenPromiseError(f"{out.name} has no usable manifest") from error
    described = {file["path"]: file["sha256"] for file in manifest["files"]}
    rest = {name: mark for name, mark in found.items() if name != "manifest.json"}
    if rest != described:
        wrong = sorted(set(rest.items()) ^ set(described.items()))
        raise BrokenPromiseError(f"{out.name} is not whole: {wrong[:4]}")
    return found


def require_sentence(text: str) -> None:
    """Make sure that an error is one sentence."""
    if "\n" in text or "Traceback" in text or not text.strip():
        raise BrokenPromiseError(f"not one sentence: {text[:300]!r}")


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


class Endurance:
    """A school, its lessons as they are and were, and what happened so far."""

    def __init__(self, place: Path, seed: int) -> None:
        self.place, self.chance = place, Random(seed)
        self.lessons, self.out, self.cache = (
            place / name for name in ("lessons", "out", "cache")
        )
        for folder in (self.lessons, self.out, self.cache):
            folder.mkdir(parents=True)
        os.environ["KIT_CACHE"] = str(self.cache)
        self.drafts = {slug: first_draft(self.chance, slug) for slug in SLUGS}
        self.past: dict[str, list[Draft]] = {slug: [] for slug in SLUGS}
        self.made: dict[str, dict[str, str]] = {}
        self.counts: Counter[str] = Counter()
        self.crew = LocalCrew(2)
        self.slug = SLUGS[0]
        self.done: list[str] = []

    @property
    def folder(self) -> Path:
        return self.lessons / self.slug

    @property
    def output(self) -> Path:
        return self.out / self.slug

    def begin(self) -> None:
        """Build everything once."""
        for slug, draft in self.drafts.items():
            self.slug = slug
            while not self.attempt():
                edit(self.chance, draft)

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
            self.attempt(may_fail=True, writes=False)
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
        self.attempt(self.crew)

    def killed(self, *, everything: bool) -> None:
        edit(self.chance, self.drafts[self.slug])
        self.drafts[self.slug].write(self.folder)
        before = require_whole(self.output)
        run = self.command(self.out)
        time.sleep(self.chance.uniform(0.3, 9))
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

    # How it is done and checked.

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

    def read(self, code: int, said: str) -> None:
        """Check what the command said."""
        if "Traceback" in said:
            raise BrokenPromiseError(f"a traceback:\n{said[-3000:]}")
        if code not in (0, 1):
            raise BrokenPromiseError(f"exit code {code}: {said[-1000:]}")
        if code == 1:
            errors = [line for line in said.splitlines() if line.startswith("kit: ")]
            if not errors:
                raise BrokenPromiseError(f"failed without a word: {said[-1000:]}")
            self.counts[f"said: {errors[-1][:110]}"] += 1

    def attempt(
        self,
        crew: Any = None,
        *,
        may_fail: bool = False,
        knows: bool = True,
        writes: bool = True,
    ) -> bool:
        """Build the lesson as it is now; say whether that went well.

        A lesson that is wrong goes back to what it was when it was last right.
        """
        draft = self.drafts[self.slug]
        if writes:
            draft.write(self.folder)
        was = tree(self.output) if self.output.is_dir() else {}
        self.counts["rebuilds"] += 1
        try:
            result = build_lesson(
                self.folder, self.out, progress=Silent(), crew=crew or Here()
            )
        except (KitError, OSError) as error:
            self.failed(error, was, may_fail=may_fail)
            return False
        self.counts["built" if not result.was_current else "found up to date"] += 1
        now = require_whole(self.output)
        if knows:
            self.remember(draft, now)
        return True

    def failed(
        self, error: KitError | OSError, was: dict[str, str], *, may_fail: bool
    ) -> None:
        require_sentence(str(error))
        if self.output.is_dir() and tree(self.output) != was:
            raise BrokenPromiseError(f"a failed build changed the output: {error}")
        kind = type(error).__name__
        reason = error.strerror if isinstance(error, OSError) else _kind(error)
        self.counts[f"failed: {kind}, {reason}"] += 1
        if isinstance(error, OSError) and not error.filename:
            raise BrokenPromiseError(f"an error without a place: {error!r}")
        # A sign that no font has is the lesson's fault too, wherever it is met.
        is_lesson = isinstance(error, LessonError) or "could not be displayed" in str(error)
        if not may_fail and not is_lesson:
            raise BrokenPromiseError(f"failed without a cause: {error}") from error
        if self.past[self.slug] and is_lesson:
            self.drafts[self.slug] = deepcopy(self.past[self.slug][-1])

    def heal(self) -> None:
        """Build without any fault: that has to work, and to be right."""
        if self.attempt():
            self.counts["healed"] += 1
        elif not self.attempt():
            raise BrokenPromiseError("a lesson that was right before cannot be built")

    def remember(self, draft: Draft, now: dict[str, str]) -> None:
        """Compare with what these very files gave before, or with an empty cache."""
        state = hashlib.sha256(repr((self.slug, sorted(draft.files().items()))).encode())
        known = self.made.setdefault(state.hexdigest(), now)
        if known is not now:
            self.counts["compared: the same files as before"] += 1
            self.same(now, known, "what the same files gave before")
        self.past[self.slug] = [*self.past[self.slug][-30:], deepcopy(draft)]
        if self.counts["rebuilds"] % COMPARED_EACH == 0:
            self.counts["compared: an empty cache"] += 1
            self.same(now, self.afresh(), "a build with an empty cache")

    def afresh(self) -> dict[str, str]:
        """Build the lesson with an empty cache, elsewhere."""
        place = Path(tempfile.mkdtemp(dir=self.place))
        os.environ["KIT_CACHE"] = str(place / "cache")
        try:
            build_lesson(self.folder, place / "out", progress=Silent(), crew=Here())
            return tree(place / "out" / self.slug)
        finally:
            os.environ["KIT_CACHE"] = str(self.cache)
            shutil.rmtree(place)

    def same(self, now: dict[str, str], then: dict[str, str], what: str) -> None:
        """Make sure that two outputs have the same bytes."""
        if now != then:
            names = sorted({name for name, _ in set(now.items()) ^ set(then.items())})
            raise BrokenPromiseError(f"other bytes than {what}: {', '.join(names[:12])}")

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


def _kind(error: KitError) -> str:
    for words in ("was changed while", "was lost while", "a process of the build"):
        if words in error.found:
            return words
    return f"the lesson is wrong: {error.found[:60]}"


def main() -> None:
    """Run, print the counts, and end with 1 at the first promise broken."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rebuilds", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=60)
    parser.add_argument("--seed", type=int, default=1)
    wishes = parser.parse_args()
    print(describe(), flush=True)
    jobs.executed_notebook = read_calls
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        run = Endurance(Path(folder) / "school", wishes.seed)
        with run.crew:
            code = _lasting(run, wishes.rebuilds, began + 60 * wishes.minutes, wishes.seed)
    print(f"{time.monotonic() - began:.0f} s, seed {wishes.seed}")
    for name, count in sorted(run.counts.items()):
        print(f"{count:6} {name}")
    sys.exit(code)


def _lasting(run: Endurance, rebuilds: int, end: float, seed: int) -> int:
    try:
        run.begin()
        while run.counts["rebuilds"] < rebuilds and time.monotonic() < end:
            run.round()
    except BrokenPromiseError as error:
        print(f"BROKEN after {run.counts['rebuilds']} rebuilds, seed {seed}, {run.done}:")
        print(error)
        return 1
    return 0


if __name__ == "__main__":
    main()
