"""The small lesson of the figure tests, and the lessons that ship with the kit."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from kit.lesson.lesson import Lesson, open_lesson

TESTS = Path(__file__).resolve().parents[1]
LESSONS = TESTS.parent / "lessons"
SLUGS = ("lamplighters-detour", "the-girl-i-left-behind-me")


@pytest.fixture(autouse=True)
def without_event_loop() -> Iterator[None]:
    """Let editors tell the other widgets at once.

    The browser of other tests leaves an event loop running in this process, on which the
    editors would wait for a quiet moment that never comes here.
    """
    running = asyncio._get_running_loop()
    asyncio._set_running_loop(None)
    yield
    asyncio._set_running_loop(running)


@pytest.fixture
def small() -> Lesson:
    """Opened anew for each test, because widgets of one lesson share a state."""
    return open_lesson(TESTS / "figures" / "small-lesson")


@pytest.fixture(scope="session", params=SLUGS)
def shipped(request: pytest.FixtureRequest) -> Lesson:
    """Each lesson of the lessons folder."""
    return open_lesson(LESSONS / request.param)


@pytest.fixture(scope="session")
def lamplighter() -> Lesson:
    """The first demo lesson."""
    return open_lesson(LESSONS / "lamplighters-detour")


@pytest.fixture
def lamplighter_again(lamplighter: Lesson) -> Lesson:
    """The first demo lesson opened anew, for tests of what its widgets share."""
    return open_lesson(lamplighter.folder)


@pytest.fixture
def lesson(lamplighter: Lesson, tmp_path: Path) -> Lesson:
    """A copy of the first demo lesson, without notebooks, that editors may change."""
    folder = tmp_path / lamplighter.slug
    shutil.copytree(
        lamplighter.folder, folder, ignore=shutil.ignore_patterns("*.ipynb", ".*")
    )
    return open_lesson(folder)


@pytest.fixture(scope="session")
def girl() -> Lesson:
    """The second demo lesson."""
    return open_lesson(LESSONS / "the-girl-i-left-behind-me")
