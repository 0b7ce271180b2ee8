"""How are many lessons built with one crew, so that nobody waits for the end of one?

The last jobs of a lesson need all the others, and would leave workers without work; so the
next lesson is begun meanwhile. Results come in the order of the lessons.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from kit.errors import KitError
from kit.publish.build import BuildResult, build_lesson, unchanged_result

if TYPE_CHECKING:
    from kit.publish.crew import Crew
    from kit.publish.run import Progress

__all__ = ["build_lessons"]

_WORKERS_A_LESSON = 4


def build_lessons(
    folders: Iterable[Path],
    out_root: Path,
    *,
    progress: Callable[[], Progress],
    crew: Crew,
    videos: Sequence[str] = (),
) -> Iterator[BuildResult | KitError]:
    """Build lessons; give for each what became of it, or why it could not be built.

    Parameters
    ----------
    folders : iterable of Path
        The lesson folders.
    out_root : Path
        Where the output folders go.
    progress : function
        Gives something to be told of one lesson's steps.
    crew : Crew
        Who does the work.
    videos : sequence of str
        As for `kit.publish.build.build_lesson`, of each lesson.
    """

    def build(folder: Path) -> BuildResult | KitError:
        try:
            return build_lesson(
                folder, out_root, progress=progress(), crew=crew, videos=videos
            )
        except KitError as error:
            return error

    at_once = max(2, crew.workers // _WORKERS_A_LESSON)
    waiting: deque[Future[BuildResult | KitError]] = deque()
    threads = ThreadPoolExecutor(at_once)
    try:
        for folder in folders:
            result = _unchanged(folder, out_root, videos)
            if result is None:
                # Here, because processes can be taught to ignore Ctrl-C only by the main
                # thread.
                crew.prepare()
                waiting.append(threads.submit(build, folder))
            else:
                waiting.append(_known(result))
            while len(waiting) > at_once or (waiting and waiting[0].done()):
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BaseException:
        # Ctrl-C, or a full disk: threads would wait for jobs that nobody wants any more.
        crew.stop()
        raise
    finally:
        threads.shutdown(cancel_futures=True)


def _unchanged(
    folder: Path, out_root: Path, videos: Sequence[str]
) -> BuildResult | KitError | None:
    try:
        return unchanged_result(folder, out_root, videos)
    except KitError as error:
        return error


def _known(result: BuildResult | KitError) -> Future[BuildResult | KitError]:
    future: Future[BuildResult | KitError] = Future()
    future.set_result(result)
    return future
