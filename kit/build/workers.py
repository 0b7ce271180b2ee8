"""Who does the jobs: processes on this machine, or the workers of a cluster.

Workers take calls and give futures of `concurrent.futures`, so that a build does not see
the difference. Jobs share nothing but files. `kit.build._cluster` has those of a cluster.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import partial
from importlib import import_module
from multiprocessing import get_context, parent_process
from typing import Any, ParamSpec, Protocol, Self, TypeVar, cast

from kit.errors import SetupError

__all__ = ["LocalWorkers", "Workers", "workers_for"]

CALLS_A_POOL = 500
"""About fifteen lessons; then a worker has 50 MB that it had not when it was new."""
_LAST_S = 1.0
_LARGE_FROM = "MALLOC_MMAP_THRESHOLD_"
P = ParamSpec("P")
T = TypeVar("T")


class Workers(Protocol):
    """Anything that does calls somewhere else, as a context manager."""

    breakdowns: tuple[type[BaseException], ...]
    """What a future raises if the worker itself was lost, not the work wrong."""
    count: int
    """How many calls are done at once."""

    def prepare(self) -> None:
        """Get ready: work is coming."""
        ...

    def submit(
        self, call: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs
    ) -> Future[T]:
        """Have a call done; it and what it is given must be importable and picklable."""
        ...

    def loss(self, title: str) -> SetupError:
        """Say that a worker was lost while it did what is called so."""
        ...

    def stop(self) -> None:
        """End at once; what is not done yet will not be."""
        ...

    def __enter__(self) -> Self:
        """Begin."""
        ...

    def __exit__(self, kind: type[BaseException] | None, *_: object) -> None:
        """End: in order, or at once if something went wrong."""
        ...


def workers_for(scheduler: str | None, count: int | None) -> Workers:
    """Give the workers that the command's options ask for.

    Raises
    ------
    SetupError
        If there is a scheduler's address, and dask.distributed is not installed, no
        scheduler answers there, or it has no workers.
    """
    if scheduler is None:
        return LocalWorkers(count)
    try:
        from kit.build._cluster import ClusterWorkers  # noqa: PLC0415 - an extra has it
    except ModuleNotFoundError as error:
        raise SetupError(
            "building on a cluster needs dask.distributed",
            remedy="run pip install distributed",
        ) from error
    return ClusterWorkers(scheduler)


class LocalWorkers:
    """Processes of this machine, started with the first call.

    After some hundred calls others take their place, because libraries keep a little of all
    that they have drawn: the old ones finish what they were given, and end.

    Parameters
    ----------
    count : int, optional
        As many as there are cores, if not said.
    """

    breakdowns: tuple[type[BaseException], ...] = (BrokenProcessPool,)

    def __init__(self, count: int | None = None) -> None:
        self.count = count or os.cpu_count() or 1
        self._pool: ProcessPoolExecutor | None = None
        self._given = 0
        self._open: Counter[ProcessPoolExecutor] = Counter()
        self._stopped = False
        # A call may be over, and be counted, while it is being handed out.
        self._lock = threading.RLock()

    def prepare(self) -> None:
        """Start the processes, which takes them a while, if they are not there yet.

        Those that have done enough give way to fresh ones. Only the main thread sees to
        that: it alone can start processes that leave Ctrl-C to their parent.
        """
        is_main = threading.current_thread() is threading.main_thread()
        with self._lock:
            if self._pool is not None and is_main and self._given >= CALLS_A_POOL:
                self._retire(self._pool)
            if self._pool is None:
                self._start()

    def submit(
        self, call: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs
    ) -> Future[T]:
        """Have a call done by one of the processes."""
        self.prepare()
        with self._lock:
            assert self._pool is not None
            if self._stopped:
                raise BrokenProcessPool
            try:
                future = self._pool.submit(call, *args, **kwargs)
            except BrokenProcessPool:
                # A worker died in an earlier lesson: that one failed, this one need not.
                _kill(self._pool)
                self._start()
                future = self._pool.submit(call, *args, **kwargs)
            self._given += 1
            self._open[self._pool] += 1
            future.add_done_callback(partial(self._one_over, self._pool))
            return future

    def _start(self) -> None:
        self._pool = _started(self.count)
        self._given = 0

    def _retire(self, pool: ProcessPoolExecutor) -> None:
        self._pool = None
        self._end_if_done(pool)

    def _one_over(self, pool: ProcessPoolExecutor, _: Future[Any]) -> None:
        with self._lock:
            self._open[pool] -= 1
            if pool is not self._pool:
                self._end_if_done(pool)

    def _end_if_done(self, pool: ProcessPoolExecutor) -> None:
        if not self._open[pool]:
            del self._open[pool]
            _kill(pool)

    def __enter__(self) -> Self:
        """Begin; nothing is started yet."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the processes, which have nothing left to do, or nothing that is wanted.

        They are not asked to end by themselves: if one is killed while it is being asked,
        Python waits for the others for ever.
        """
        self.stop()

    def loss(self, title: str) -> SetupError:
        """Say what became of a process, as far as can be told."""
        return SetupError(
            f"a process of the build was lost while it made {title}, perhaps because "
            "memory ran out",
            remedy="build again, and what is finished is kept; --jobs 1 takes the least "
            "memory",
        )

    def stop(self) -> None:
        """Kill the processes."""
        self._stopped = True
        with self._lock:
            pools = [pool for pool in {self._pool, *self._open} if pool is not None]
            managers = [_kill(pool) for pool in pools]
        for manager in managers:
            # Python 3.11 may wake one that is just ending as it leaves itself, and then
            # prints a traceback; but a broken pool can wait for ever.
            if manager is not None and manager is not threading.current_thread():
                manager.join(_LAST_S)


def _started(count: int) -> ProcessPoolExecutor:
    # "spawn" is what macOS and Windows do; the same everywhere means the same bugs nowhere.
    pool = ProcessPoolExecutor(
        count,
        mp_context=get_context("spawn"),
        initializer=_live_no_longer_than_parent,
    )
    # Of a process that is lost so early, whoever gives it work will hear.
    with _deaf_to_ctrl_c(), _giving_memory_back(), suppress(BrokenProcessPool):
        for _ in range(count):
            pool.submit(_load)  # each starts a process, as none is idle yet
    return pool


def _kill(pool: ProcessPoolExecutor) -> threading.Thread | None:
    """End a pool with all its processes; give the thread that looks after them.

    A broken pool ends those it knows by itself, but waits for ever for one that was being
    started when another died. Calls are not cancelled: whoever waits for them would not be
    told, and hears of the broken pool instead.
    """
    processes = list((pool._processes or {}).values())
    # Typeshed takes it for something else.
    manager = cast("threading.Thread | None", pool._executor_manager_thread)
    pool.shutdown(wait=False)
    for process in processes:
        process.kill()
    return manager


def _live_no_longer_than_parent() -> None:
    """End this process when the one that started it is killed: it would wait for ever."""
    parent = parent_process()
    assert parent is not None, "only started processes are given this to do"

    def end() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=end, daemon=True).start()


def _load() -> None:
    """Load what jobs need, before there is one."""
    # jsonschema, which nbformat loads, would build the grammar of international addresses:
    # a second of every worker's time, for a check that no notebook asks for. It does
    # without where there is no such module.
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
    import_module("kit.build._work")


@contextmanager
def _giving_memory_back() -> Iterator[None]:
    """Let processes started here return the memory of a minute of audio when it is freed.

    GNU's allocator, left alone, counts what was once freed as small and keeps it: a worker
    that goes from lesson to lesson would hold 80 MB for nothing. Others ignore this.
    """
    before = os.environ.get(_LARGE_FROM)
    os.environ.setdefault(_LARGE_FROM, "8000000")
    try:
        yield
    finally:
        if before is None:
            del os.environ[_LARGE_FROM]


@contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
    """Let processes started here leave Ctrl-C to their parent, which ends them in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, heard)
