"""Progress of long work: a bar on a terminal, plain lines everywhere else.

Work of some seconds only says what it is doing, and only on a terminal.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from kit.terminal import echo, plain

__all__ = ["shown_progress", "shown_steps"]


class _Lines:
    """A line for each step, for logs."""

    def __init__(self) -> None:
        self._title, self._steps, self._done, self._began = "", 0, 0, time.monotonic()

    def start(self, title: str, steps: int) -> None:
        self._title, self._steps, self._done = title, steps, 0
        echo(f"{title}: {steps} steps", err=True)

    def step(self, title: str, left_s: float | None = None) -> None:
        self._done += 1
        passed = time.monotonic() - self._began
        times = f"{passed:.1f} s" + _left_words(left_s)
        echo(f"{self._title}: {self._done}/{self._steps} {title} ({times})", err=True)


class _Bar:
    """A bar that stays on one line, with the time that is left."""

    def __init__(self, progress: object) -> None:
        self._progress = progress
        self._task: object = None
        self._title = ""
        self._left = 0

    def start(self, title: str, steps: int) -> None:
        self._title, self._left = plain(title), steps
        self._task = self._progress.add_task(  # type: ignore[attr-defined]
            self._title, total=steps, left=""
        )

    def step(self, title: str, left_s: float | None = None) -> None:
        self._progress.update(  # type: ignore[attr-defined]
            self._task,
            advance=1,
            description=f"{self._title}: {plain(title)}",
            left=_left_words(left_s).removeprefix(", "),
        )
        self._left -= 1
        if not self._left:
            self._progress.remove_task(self._task)  # type: ignore[attr-defined]


def _left_words(left_s: float | None) -> str:
    return "" if left_s is None else f", about {left_s:.0f} s left"


@contextmanager
def shown_progress() -> Iterator[Callable[[], _Lines | _Bar]]:
    """Show progress on standard error for as long as the block runs.

    What it gives is called once for each lesson.
    """
    if not sys.stderr.isatty():
        yield _Lines
        return
    from rich.console import Console  # noqa: PLC0415 - not needed in a log
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
    )

    # What stands in square brackets in a title is part of the title.
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[left]}", markup=False),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        yield lambda: _Bar(progress)


def _quietly(_words: str) -> None:
    """Show nothing."""


@contextmanager
def shown_steps() -> Iterator[Callable[[str], None]]:
    """Show on standard error what is being done, as long as the block runs.

    What it gives is called with the words of each step; nothing is shown where there is no
    terminal, and nothing stays on one.
    """
    if not sys.stderr.isatty():
        yield _quietly
        return
    from rich.console import Console  # noqa: PLC0415 - not needed in a log
    from rich.markup import escape  # noqa: PLC0415

    with Console(stderr=True).status("") as status:
        yield lambda words: status.update(escape(plain(words)))
