"""Programs that some tests drive: one browser for the whole run."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings
from waiting import PATIENCE_S

# A busy machine must not fail a test: none of ours is about time.
settings.register_profile("kit", deadline=None)
settings.load_profile("kit")

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def missing(what: str) -> None:
    """Leave a test out where a program is missing, but never in the automatic run."""
    if os.environ.get("CI"):
        pytest.fail(f"{what}, and the automatic run must have it")
    pytest.skip(what)


def chromium_path() -> str:
    """Find Chromium: KIT_CHROMIUM, or one of the usual commands."""
    found = os.environ.get("KIT_CHROMIUM") or next(
        filter(None, map(shutil.which, CHROMIUM_NAMES)), ""
    )
    if not found:
        missing("no Chromium found; install one or set KIT_CHROMIUM to its path")
    return found


@pytest.fixture(autouse=True)
def no_take_remembered() -> None:
    """Let each test hear its own rendering, and count it."""
    takes = sys.modules.get("kit.sound._takes")
    if takes is not None:
        takes._last.clear()


@pytest.fixture(scope="session")
def browser() -> Iterator[object]:
    """Chromium, driven by Playwright."""
    from playwright.sync_api import sync_playwright

    path = chromium_path()
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=path,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--autoplay-policy=no-user-gesture-required",
            ],
        )
        yield _Patient(started)
        started.close()


class _Patient:
    """A browser whose waits end a test only where no machine could be that busy."""

    def __init__(self, started: Any) -> None:
        self._started = started

    def new_context(self, **settings: Any) -> Any:
        context = self._started.new_context(**settings)
        context.set_default_timeout(PATIENCE_S * 1000)
        return context


@pytest.fixture
def page(browser) -> Iterator[object]:
    """A fresh page in a browser context of its own."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    yield context.new_page()
    context.close()


@pytest.fixture(scope="session")
def ffmpeg() -> str:
    """The ffmpeg command, an independent meter and decoder."""
    found = shutil.which("ffmpeg") or ""
    if not found:
        missing("no ffmpeg found; install it")
    return found
