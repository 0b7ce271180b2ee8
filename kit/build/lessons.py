"""How are many lessons built with one workers, so that nobody waits for the end of one?

The last jobs of a lesson need all the others, and would leave workers without work; so the
next lesson is begun meanwhile. Results come in the order of the lessons.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from kit.build.lesson import BuildResult, build_lesson, unchanged_result
from kit.errors import KitError
from kit.reading import from_os_error

if TYPE_CHECKING:
    from kit.build._run import Progress
    from kit.build.workers import Workers

__all__ = ["build_lessons"]

_WORKERS_A_LESSON = 4
T = TypeVar("T")


def build_lessons(
    folders: Iterable[Path],
    out_root: Path,
    *,
    progress: Callable[[], Progress],
    workers: Workers,
    videos: Sequence[str] = (),
) -> Iterator[BuildResult | Exception]:
    """Build lessons; give for each what became of it, or why it could not be built.

    The reason is a `KitError`, or another exception where the kit itself is at fault: that
    lesson has to wait for the fault to be mended, and no other has to wait with it.

    Parameters
    ----------
    folders : iterable of Path
        The lesson folders.
    out_root : Path
        Where the output folders go.
    progress : function
        Gives something to be told of one lesson's steps.
    workers : Workers
        Who does the work.
    videos : sequence of str
        As for `kit.build.lesson.build_lesson`, of each lesson.

    Raises
    ------
    OSError
        If a disk is full or may not be written to, which concerns every lesson.
    """
    folders = list(folders)
    shared = _shared_names(folders)

    def build(folder: Path) -> BuildResult | Exception:
        whole = partial(build_lesson, progress=progress(), workers=workers, videos=videos)
        return _result_or_reason(folder, partial(whole, folder, out_root))

    at_once = max(2, workers.count // _WORKERS_A_LESSON)
    waiting: deque[Future[BuildResult | Exception]] = deque()
    threads = ThreadPoolExecutor(at_once)
    try:
        for folder in folders:
            if folder in shared:
                waiting.append(_known(shared[folder]))
                continue
            result = _result_or_reason(
                folder, partial(unchanged_result, folder, out_root, videos)
            )
            if result is None:
                # Here, because processes can be taught to ignore Ctrl-C only by the main
                # thread.
                workers.prepare()
                waiting.append(threads.submit(build, folder))
            else:
                waiting.append(_known(result))
            while len(waiting) > at_once or (waiting and waiting[0].done()):
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BaseException:
        # Ctrl-C, or a full disk: threads would wait for jobs that nobody wants any more.
        workers.stop()
        raise
    finally:
        threads.shutdown(cancel_futures=True)


def _shared_names(folders: Sequence[Path]) -> Mapping[Path, KitError]:
    """Find lessons that would be built over one another."""
    if len(folders) < 2:
        return {}
    from kit.check.names import shared_names  # noqa: PLC0415 - unchanged lessons need little

    return shared_names(folders)


def _result_or_reason(folder: Path, build: Callable[[], T]) -> T | Exception:
    try:
        return build()
    except OSError as error:
        if not _lies_in(error.filename, folder):
            raise
        # A file of this lesson that cannot be read concerns no other lesson.
        return from_os_error(error)
    except KitError as error:
        return error
    except Exception as error:  # noqa: BLE001 - it is told when the others are done
        error.add_note(f"This happened while {folder} was built.")
        return error


def _lies_in(name: object, folder: Path) -> bool:
    if not isinstance(name, str | bytes):
        return False
    path, home = os.path.realpath(os.fsdecode(name)), os.path.realpath(folder)
    return Path(path).is_relative_to(home)


def _known(result: BuildResult | Exception) -> Future[BuildResult | Exception]:
    future: Future[BuildResult | Exception] = Future()
    future.set_result(result)
    return future
