"""How does a case go through the kit's own door, held and measured?

The program that holds the kit loaded forks a process for each case, so that nothing of one
case reaches the next: one to write the files, one for each command. A command's process
calls what the ``kit`` console command calls, its output going to files; its limits are far
above what the judge allows, so that it is seen by how much they are passed. Processor
seconds and the peak of resident memory are the system's own account of it (`wait4`), with
all that it started and waited for.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import signal
import sys
import time
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, NoReturn

from fuzz_case import (
    USUAL,
    Broken,
    Case,
    Limits,
    Outcome,
    judged,
    leftovers,
    printed_hashes,
)

__all__ = ["begin", "load_kit", "run_case", "the_command"]

OUTPUT_LIMIT = 1_000_000
"""Bytes that are read of what a command prints."""


Door = Callable[[list[bytes]], int]
"""What a command's process calls with its words; it gives the exit code."""


def the_command(words: list[bytes]) -> int:
    """Do what the ``kit`` console command does."""
    if words[0] == b"build":
        # It starts processes of its own, which need a program to begin with.
        os.execv(sys.executable, [sys.executable, "-P", "-m", "kit", *words])
    from kit.cli import main

    # As they are where the language is UTF-8, whatever it is here.
    sys.stdout = os.fdopen(1, "w", encoding="utf-8", closefd=False)
    sys.stderr = os.fdopen(
        2, "w", encoding="utf-8", errors="backslashreplace", closefd=False
    )
    sys.argv = ["kit", *map(os.fsdecode, words)]
    try:
        main(prog_name="kit")
    except SystemExit as stop:
        if stop.code is None:
            return 0
        return stop.code if isinstance(stop.code, int) else 1
    return 0


def load_kit() -> None:
    """Import what the commands import, once for all cases; no thread may be started."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    import kit.authoring.first_look
    import kit.authoring.start
    import kit.build.lesson
    import kit.check
    import kit.cli
    import kit.publish.catalogue.site  # noqa: F401

    gc.freeze()


def begin(make: Callable[[], Case], place: Path, result: Path) -> int:
    """Fork a process that runs a case and writes what became of it; give its number."""
    sys.stdout.flush()
    sys.stderr.flush()
    child = os.fork()
    if child == 0:
        code = 1
        try:
            # A group of its own, so that all of it can be ended.
            os.setpgid(0, 0)
            report = run_case(make, place)
            part = result.with_suffix(".part")
            part.write_text(json.dumps(report), encoding="utf-8")
            part.replace(result)
            code = 0
        except BaseException:  # noqa: BLE001 - it is this process that ends
            traceback.print_exc()
        finally:
            sys.stderr.flush()
            os._exit(code)
    return child


def run_case(
    make: Callable[[], Case],
    place: Path,
    *,
    door: Door = the_command,
    limits: Limits = USUAL,
) -> dict[str, Any]:
    """Write a case, run its commands and give the promises broken.

    Returns
    -------
    dict
        ``family``, ``note``, ``outcomes`` (a dict each, with the command) and ``broken``
        (pairs of kind and what).
    """
    leftovers(place)
    place.mkdir(parents=True)
    work = place / "work"
    work.mkdir()
    case = make()
    case.write(work)
    # A command's process would be taken to hold what this one holds of large files.
    case.files = dict.fromkeys(case.files, b"")
    broken: list[Broken] = []
    outcomes = []
    done: list[Outcome] = []
    for command in case.commands:
        words = _with_made(command, work)
        if words is None:
            continue
        before = printed_hashes(work, case.sources)
        outcome = _run(words, case, place, door, limits)
        found = list(judged(case, outcome, limits))
        changed = {
            Path(name).relative_to(work).as_posix()
            for name, _ in set(before.items())
            ^ set(printed_hashes(work, case.sources).items())
        }
        if changed:
            found.append(Broken("source changed", f"{len(changed)}: {sorted(changed)[:3]}"))
        broken += found
        done.append(outcome)
        outcomes.append(
            {
                "command": [word.decode("utf-8", "backslashreplace") for word in words],
                "code": outcome.code,
                "processor_s": outcome.processor_s,
                "wall_s": outcome.wall_s,
                "peak_bytes": outcome.peak_bytes,
                "err": outcome.err[-3000:].decode("utf-8", "backslashreplace"),
            }
        )
    if case.after:
        broken += case.after(work, done)
    return {
        "family": case.family,
        "note": case.note,
        "outcomes": outcomes,
        "broken": [(one.kind, one.what) for one in broken],
    }


def _with_made(command: list[bytes], work: Path) -> list[bytes] | None:
    """Put in the folder that an earlier ``kit new`` made, if it made one."""
    if b"{made}" not in command:
        return command
    made = work / "made"
    # A folder with a dot is one that was not finished.
    names = [path.name for path in made.glob("[!.]*")] if made.is_dir() else []
    if not names:
        return None
    return [
        os.fsencode(f"made/{min(names)}") if word == b"{made}" else word for word in command
    ]


def _run(
    words: list[bytes], case: Case, place: Path, door: Door, limits: Limits
) -> Outcome:
    out, err = place / "stdout", place / "stderr"
    start = time.monotonic()
    child = os.fork()
    if child == 0:
        _enter(words, case, place, door, limits)
    timed_out = False
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            break
        if time.monotonic() - start > limits.stop_wall_s:
            timed_out = True
            os.kill(child, signal.SIGKILL)
        time.sleep(0.005)
    code = os.waitstatus_to_exitcode(status)
    return Outcome(
        code=code,
        processor_s=used.ru_utime + used.ru_stime,
        wall_s=time.monotonic() - start,
        peak_bytes=used.ru_maxrss * (1 if sys.platform == "darwin" else 1024),
        out=out.read_bytes()[:OUTPUT_LIMIT],
        err=err.read_bytes()[-OUTPUT_LIMIT:],
        timed_out=timed_out or code == -signal.SIGXCPU,
    )


def _enter(
    words: list[bytes], case: Case, place: Path, door: Door, limits: Limits
) -> NoReturn:
    code = 99
    try:
        os.chdir(place / "work")
        files = (Path(os.devnull), place / "stdout", place / "stderr")
        for number, path in enumerate(files):
            flags = os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT | os.O_TRUNC
            os.dup2(os.open(path, flags, 0o600), number)
        os.environ.update(case.env)
        for limit, value in (
            (resource.RLIMIT_CPU, limits.stop_s),
            (resource.RLIMIT_AS, limits.stop_bytes),
            (resource.RLIMIT_CORE, 0),
        ):
            resource.setrlimit(limit, (value, resource.getrlimit(limit)[1]))
        code = door(words)
        sys.stdout.flush()
        sys.stderr.flush()
    except BaseException:  # noqa: BLE001 - what Python itself would print
        os.write(2, traceback.format_exc().encode("utf-8", "backslashreplace"))
    finally:
        os._exit(code & 0xFF)
