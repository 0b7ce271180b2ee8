"""What does a benchmark run on, and what does a program use while it runs?

Shared by the benchmarks of whole builds. Memory is resident memory as psutil reads it,
sampled ten times a second over a program and all that it starts; pages shared by
several processes are counted in each, so the sum is an upper bound.
"""

from __future__ import annotations

import os
import platform
import resource
import subprocess
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path

import psutil

INTERVAL_S = 0.1
MB = 1_000_000


@dataclass(frozen=True, slots=True)
class Run:
    """What a program used; memory is 0 where it was not sampled."""

    wall_s: float
    processor_s: float
    sum_mb: float = 0.0
    largest_mb: float = 0.0
    processes: int = 0


def describe(packages: Iterable[str] = (), programs: Iterable[str] = ()) -> str:
    """Describe machine, load and versions in a few lines."""
    memory_gb = psutil.virtual_memory().total / 1e9
    lines = [
        f"{_processor()}, {os.cpu_count()} cores, {memory_gb:.0f} GB of memory",
        f"{platform.platform()}, Python {platform.python_version()}, "
        f"load of the last minute {psutil.getloadavg()[0]:.1f}",
        ", ".join(f"{name} {version(name)}" for name in packages),
        "; ".join(_program(name) for name in programs),
    ]
    return "\n".join(line for line in lines if line)


def _processor() -> str:
    info = Path("/proc/cpuinfo")
    if info.is_file():
        for line in info.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.partition(":")[2].strip()
    return platform.processor() or platform.machine()


def _program(name: str) -> str:
    flag = "-version" if Path(name).name == "ffmpeg" else "--version"
    run = subprocess.run([name, flag], capture_output=True, text=True, check=True)
    return run.stdout.strip().splitlines()[0].partition(" Copyright")[0]


def children_s() -> float:
    """Processor seconds of all finished programs that this process started."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def run_program(
    command: Sequence[str | Path],
    *,
    env: Mapping[str, str],
    cwd: Path,
    log: Path,
    sampled: bool = False,
) -> Run:
    """Run a program to its end, what it prints going to a file.

    Sampling costs a few hundredths of a core; leave it out where milliseconds count.

    Raises
    ------
    RuntimeError
        If it fails, with the end of what it printed.
    """
    before = children_s()
    with log.open("w", encoding="utf-8") as printed:
        start = time.perf_counter()
        program = subprocess.Popen(
            command, cwd=cwd, env={**os.environ, **env}, stdout=printed, stderr=printed
        )
        peak = _watched(program) if sampled else (0.0, 0.0, 0)
        code = program.wait()
        wall_s = time.perf_counter() - start
    if code != 0:
        end = log.read_text(encoding="utf-8", errors="replace")[-2000:]
        raise RuntimeError(f"{command[0]} ended with {code}:\n{end}")
    return Run(wall_s, children_s() - before, *peak)


def _watched(program: subprocess.Popen[bytes]) -> tuple[float, float, int]:
    """Give the largest sum, the largest single process (MB) and the most processes."""
    top = psutil.Process(program.pid)
    total = largest = 0.0
    most = 0
    while program.poll() is None:
        sizes = _sizes_mb(top)
        total = max(total, sum(sizes))
        largest = max(largest, *sizes) if sizes else largest
        most = max(most, len(sizes))
        time.sleep(INTERVAL_S)
    return total, largest, most


def _sizes_mb(top: psutil.Process) -> list[float]:
    try:
        tree = [top, *top.children(recursive=True)]
    except psutil.NoSuchProcess:
        return []
    sizes = []
    for process in tree:
        try:
            sizes.append(process.memory_info().rss / MB)
        except psutil.NoSuchProcess:
            # It ended between the listing and the question.
            continue
    return sizes
