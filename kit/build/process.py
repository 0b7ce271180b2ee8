"""Build one lesson in a process of its own, and tell of it line by line.

    python -m kit.build.process LESSON OUT

Standard output is one JSON object a line: ``{"start": title, "steps": n}``, ``{"step":
title, "left_s": seconds or null}``, and last ``{"done": folder, "files": n, "current":
bool, "findings": [sentence]}`` or ``{"failed": [sentence]}``. Exit codes are those of
``kit build``. The notebook's build widget reads it; the kernel thereby stays free, and
stopping a build ends all its processes.
"""

from __future__ import annotations

import json
import signal
import sys
from pathlib import Path
from typing import Any

from kit.errors import KitError

__all__ = ["STOPPED", "main"]

STOPPED = "The build was stopped; the last good output is untouched."


def _tell(**news: Any) -> None:
    print(json.dumps(news), flush=True)


class _Told:
    """Progress as lines."""

    def start(self, title: str, steps: int) -> None:
        _tell(start=title, steps=steps)

    def step(self, title: str, left_s: float | None = None) -> None:
        _tell(step=title, left_s=left_s)


def main(folder: Path, out: Path) -> int:
    """Build and give the exit code."""
    from kit.build.lesson import build_lesson  # noqa: PLC0415 - told of errors from here on
    from kit.build.workers import LocalWorkers  # noqa: PLC0415
    from kit.output.own_files import kept_aside_sentences  # noqa: PLC0415
    from kit.publish.catalogue.site import FILES, write_catalogue  # noqa: PLC0415
    from kit.publish.catalogue.withdrawn import withdrawn_sentences  # noqa: PLC0415

    notes: list[str] = []
    try:
        with LocalWorkers() as workers:
            result = build_lesson(folder, out, progress=_Told(), workers=workers)
        notes += kept_aside_sentences(out, FILES)
        write_catalogue(out)
        notes.extend(withdrawn_sentences(out))
    except KitError as error:
        _tell(failed=[str(error), *(text.removeprefix("error: ") for text in error.more)])
        return 1
    except OSError as error:
        _tell(failed=[f"{error.filename or out}: {error.strerror or error}."])
        return 1
    except KeyboardInterrupt:
        _tell(failed=[STOPPED])
        return 1
    _tell(
        done=str(result.folder),
        files=result.files,
        current=result.was_current,
        findings=[
            *result.notices,
            *(str(finding) for finding in result.findings),
            *notes,
        ],
    )
    return 0


def _stop_once(number: int, _: object) -> None:
    """Stop, and hear no more of it, so that nothing breaks into the clearing up."""
    signal.signal(number, signal.SIG_IGN)
    raise KeyboardInterrupt


if __name__ == "__main__":
    signal.signal(signal.SIGINT, _stop_once)
    if sys.platform == "win32":
        # What stops a process group there is not Ctrl-C but Ctrl-Break.
        signal.signal(signal.SIGBREAK, _stop_once)
    sys.stdout.reconfigure(encoding="utf-8")  # type: ignore[union-attr]  # it is a file here
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
