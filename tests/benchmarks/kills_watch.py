"""At which moment of a build is it killed? At one that is waited for, in slices.

A build is let run until its stage stands beside the output. From then on it is stopped and
continued in slices of a fraction of a millisecond; between two slices the folders are
looked at, and when they are in the state waited for the whole group of processes is killed.
So short moments, such as the one between the two renames, are met again and again without
anything in the kit that knows of it.
"""

from __future__ import annotations

import os
import re
import signal
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import psutil

__all__ = ["CLEARING", "MOMENTS", "Places", "kill_group", "killed_at", "moment_of"]

SLICE_S = 0.0002
POLL_S = 0.0005
CATALOGUE = ("index.html", "feed.xml", "free-site.zip", "public/index.html")
CLEARING = "the cache is being cleared"


class Places:
    """The folders of a build: where its outputs go, which lesson, which cache."""

    def __init__(self, out: Path, slug: str, cache: Path) -> None:
        self.out, self.slug, self.cache = out, slug, cache
        self._stage = re.compile(rf"\.{re.escape(slug)}\.\w{{8}}\.(?:stage|old|gone)")
        self.entries = 0
        self.before: dict[str, int] = {}

    def begin(self) -> None:
        """Remember what is there now."""
        self.entries = self.count()
        names = (self.slug, f".recipes/{self.slug}.json", *CATALOGUE)
        self.before = {name: self.inode(name) for name in names}

    def count(self) -> int:
        """Count the entries of the cache."""
        return sum(1 for _ in self.cache.glob("??/*"))

    def inode(self, name: str) -> int:
        """Tell one file or folder from the next of its name; 0 if there is none."""
        with suppress(OSError):
            return (self.out / name).stat().st_ino
        return 0

    def is_new(self, name: str) -> bool:
        """Say whether another file or folder of that name has taken the place."""
        return self.inode(name) not in (0, self.before.get(name, 0))

    def leftovers(self) -> list[Path]:
        """List stages of the lesson, and outputs taken aside."""
        with suppress(OSError):
            return [path for path in self.out.iterdir() if self._stage.fullmatch(path.name)]
        return []

    def stages(self) -> list[Path]:
        """List the stages of the lesson."""
        return [path for path in self.leftovers() if path.suffix == ".stage"]

    def olds(self) -> list[Path]:
        """List the outputs taken aside."""
        return [path for path in self.leftovers() if path.suffix != ".stage"]


def _filling(at: Places) -> bool:
    return any(not (stage / "manifest.json").exists() for stage in at.stages())


def _filled(at: Places) -> bool:
    return any((stage / "manifest.json").exists() for stage in at.stages())


def _between(at: Places) -> bool:
    return bool(at.olds()) and not at.inode(at.slug)


def _removing(at: Places) -> bool:
    return bool(at.olds()) and at.is_new(at.slug)


def _swapped(at: Places) -> bool:
    return at.is_new(at.slug)


def _recorded(at: Places) -> bool:
    return at.is_new(f".recipes/{at.slug}.json")


def _cataloguing(at: Places) -> bool:
    inner = (at.out, at.out / "public")
    under_way = any(list(folder.glob(".*.new")) for folder in inner)
    return under_way or any(at.is_new(name) for name in CATALOGUE)


def _clearing(at: Places) -> bool:
    # Where nothing is cleared there are at least as many as before.
    return _swapped(at) and at.count() < at.entries


MOMENTS: dict[str, Callable[[Places], bool]] = {
    "the stage is being filled": _filling,
    "the stage is complete": _filled,
    "between the two renames": _between,
    "the old output is being removed": _removing,
    "the new output is in place": _swapped,
    "the records are written": _recorded,
    "the catalogue is being written": _cataloguing,
    CLEARING: _clearing,
}
"""In the order in which a build comes by."""


def moment_of(at: Places) -> str:
    """Say in which state a killed build left the folders."""
    latest = [name for name, reached in MOMENTS.items() if reached(at)]
    return latest[-1] if latest else "before there is a stage"


def killed_at(
    run: subprocess.Popen[str], at: Places, moment: str, *, more: int = 0
) -> bool:
    """Let a build run to a moment, and some slices more; say whether it was met there."""
    while run.poll() is None and not at.stages():
        time.sleep(POLL_S)
    while run.poll() is None:
        with suppress(ProcessLookupError):
            os.kill(run.pid, signal.SIGSTOP)
            if MOMENTS[moment](at):
                if more == 0:
                    kill_group(run)
                    return True
                more -= 1
            os.kill(run.pid, signal.SIGCONT)
        time.sleep(SLICE_S)
    return False


def kill_group(run: subprocess.Popen[str]) -> list[psutil.Process]:
    """Kill all of a build's group; give what it had started, to see it end."""
    started: list[psutil.Process] = []
    if run.poll() is None:
        with suppress(psutil.Error):
            started = psutil.Process(run.pid).children(recursive=True)
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
    return started
