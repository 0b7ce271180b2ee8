"""How is a lesson built from a notebook without holding it up?

The build runs in a process of its own (`kit.build.process`); a thread reads what it
tells and passes it on. A notebook that is run *by* a build starts none.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import kit
from kit.build.execute import is_building
from kit.build.process import STOPPED
from kit.errors import LessonError

__all__ = ["BuildNews", "BuildRun"]

_MOST_LINES = 400
_TRIES = 40
_BETWEEN_TRIES_S = 0.5
_WINDOWS = sys.platform == "win32"


@dataclass(frozen=True, slots=True)
class BuildNews:
    """How far a build is.

    `outcome` is empty while it runs; `log` has a line for each step; `problems` say why it
    failed, `findings` what is worth a look in what was built.
    """

    steps: int = 0
    done: int = 0
    step: str = "starting"
    seconds: float = 0.0
    outcome: Literal["", "built", "current", "failed"] = ""
    files: int = 0
    log: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()

    @property
    def share(self) -> float:
        """How much of it is done, 0 to 1."""
        return 1.0 if self.outcome else self.done / self.steps if self.steps else 0.0


class BuildRun:
    """One build of one lesson.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    out_root : Path
        Where the output folder goes.
    tell : callable
        Called with `BuildNews` at each step, from another thread.

    Raises
    ------
    LessonError
        If this notebook is itself being run by a build.
    """

    def __init__(
        self, folder: Path, out_root: Path, tell: Callable[[BuildNews], None]
    ) -> None:
        if is_building():
            raise LessonError(
                "a build is running this notebook, so no other is started from it",
                file=folder.name,
            )
        self.news = BuildNews()
        self._is_stopping = False
        self._tell = tell
        self._began = time.monotonic()
        self._errors = tempfile.TemporaryFile()  # noqa: SIM115 - closed by the thread
        self._process = subprocess.Popen(
            [sys.executable, "-m", "kit.build.process", str(folder), str(out_root)],
            stdout=subprocess.PIPE,
            stderr=self._errors,
            stdin=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            env={**os.environ, "PYTHONPATH": _search_path()},
            # A group of its own: interrupting the kernel must not reach it, and stopping it
            # must reach its workers.
            start_new_session=not _WINDOWS,
            creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
        )
        self._thread = threading.Thread(target=self._follow, daemon=True)
        self._thread.start()

    @property
    def is_running(self) -> bool:
        """Whether it has not ended yet."""
        return not self.news.outcome

    def stop(self) -> None:
        """Ask the build to end; the last good output stays."""
        self._is_stopping = True
        threading.Thread(target=self._insist, daemon=True).start()

    def wait(self, seconds: float) -> BuildNews:
        """Wait for the end, at most so long, and give the news."""
        self._thread.join(seconds)
        return self.news

    def _insist(self) -> None:
        """Interrupt until it has ended; while its workers start it does not listen."""
        for _ in range(_TRIES):
            if self._process.poll() is not None:
                return
            self._interrupt()
            time.sleep(_BETWEEN_TRIES_S)
        self._process.kill()

    def _interrupt(self) -> None:
        # It may have ended in this very moment.
        with contextlib.suppress(ProcessLookupError):
            if _WINDOWS:
                self._process.send_signal(signal.CTRL_BREAK_EVENT)  # type: ignore[attr-defined]
            else:
                os.killpg(self._process.pid, signal.SIGINT)

    def _follow(self) -> None:
        assert self._process.stdout is not None
        with self._process.stdout as lines, self._errors as errors:
            for line in lines:
                self._take(json.loads(line))
            self._process.wait()
            if self.is_running:
                errors.seek(0)
                said = errors.read()[-2000:].decode(errors="replace").strip()
                last = said.splitlines()[-1] if said else "it was ended from outside"
                # Stopped while it started it could not say so itself.
                why = STOPPED if self._is_stopping else f"The build broke off: {last}"
                self._pass_on(outcome="failed", problems=(why,))

    def _take(self, told: dict[str, Any]) -> None:
        if "start" in told:
            self._pass_on(steps=told["steps"])
        elif "step" in told:
            passed = time.monotonic() - self._began
            log = (*self.news.log, f"{passed:5.1f} s  {told['step']}")[-_MOST_LINES:]
            self._pass_on(done=self.news.done + 1, step=told["step"], log=log)
        elif "failed" in told:
            self._pass_on(outcome="failed", problems=tuple(told["failed"]))
        elif "done" in told:
            self._pass_on(
                outcome="current" if told["current"] else "built",
                files=told["files"],
                findings=tuple(told["findings"]),
            )

    def _pass_on(self, **changes: Any) -> None:
        passed = time.monotonic() - self._began
        self.news = replace(self.news, seconds=passed, **changes)
        self._tell(self.news)


def _search_path() -> str:
    """Let the child find the kit where this process has found it."""
    home = str(Path(kit.__file__).resolve().parents[1])
    return os.pathsep.join(filter(None, [home, os.environ.get("PYTHONPATH", "")]))
