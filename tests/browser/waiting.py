"""Waiting for what a browser, a kernel or a build does in its own time.

Every wait is for a state. The limit only ends a run in which it never comes, so it is far
beyond what the busiest machine takes.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from typing import Any

import pytest

__all__ = ["PATIENCE_S", "all_cells_have_run", "is_idle", "run_all_cells", "until"]

PATIENCE_S = 240


_LOST_AFTER_S = 10
_FRONT = ".jp-NotebookPanel:not(.lm-mod-hidden)"


def until(claim: Callable[[], object], *, why: str | Callable[[], str]) -> object:
    """Wait until a claim holds and give its value; `why` says what did not come."""
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        value = claim()
        if value:
            return value
        time.sleep(0.05)
    pytest.fail(f"not within {PATIENCE_S} s: {why if isinstance(why, str) else why()}")


def run_all_cells(page: Any) -> None:
    """Run JupyterLab's front notebook and wait until its cells have run.

    Traps (found by trying): "Run All Cells" right after the kernel turns idle is sometimes
    lost, or taken back when the kernel starts anew, so it is given again while the kernel
    is idle and no cell shows that it has run. On a busy machine JupyterLab asks for a
    kernel, or whether to go on, before it knows; the answer is yes.
    """
    buttons = page.locator(".jp-Dialog .jp-mod-accept")
    has_begun = False

    def accept() -> None:
        # Not Playwright's click, which would wait for a button that has gone meanwhile.
        buttons.evaluate_all("(found) => found.forEach((button) => button.click())")

    def begins() -> bool:
        before = _marks(page)
        page.locator(".lm-MenuBar-item", has_text="Run").first.click()
        page.locator(".lm-Menu-item", has_text="Run All Cells").first.click()
        lost_at = time.monotonic() + _LOST_AFTER_S
        while _marks(page) == before and time.monotonic() < lost_at:
            page.wait_for_timeout(50)
        return _marks(page) != before

    def has_run() -> bool:
        nonlocal has_begun
        accept()
        if is_idle(page) and not has_begun:
            has_begun = begins()
        if has_begun and is_idle(page) and not _marks(page):
            has_begun = False
        return has_begun and all_cells_have_run(page)

    page.add_locator_handler(buttons, accept)
    until(has_run, why=lambda: f"all cells have run, but {_state(page)}")
    page.remove_locator_handler(buttons)


def _marks(page: Any) -> list[str]:
    """List the cells' marks of having run or waiting to.

    Cells stand in the page in any order, and those out of sight are not drawn again.
    """
    texts = page.locator(f"{_FRONT} .jp-CodeCell .jp-InputPrompt").all_inner_texts()
    return sorted(text for text in texts if re.search(r"\[(\d+|\*)\]", text))


def is_idle(page: Any) -> bool:
    """Say whether the kernel of JupyterLab's front notebook has nothing to do."""
    indicator = page.locator(f"{_FRONT} .jp-Notebook-ExecutionIndicator")
    return indicator.count() > 0 and indicator.first.get_attribute("data-status") == "idle"


def all_cells_have_run(page: Any) -> bool:
    """Say whether a cell of the front notebook has a number, and none waits."""
    return any("[*]" not in mark for mark in _marks(page)) and is_idle(page)


def _state(page: Any) -> str:
    """Say what JupyterLab shows, for the one who looks into a failure."""
    prompts = page.locator(f"{_FRONT} .jp-CodeCell .jp-InputPrompt").all_inner_texts()
    indicators = page.locator(f"{_FRONT} .jp-Notebook-ExecutionIndicator")
    status = [one.get_attribute("data-status") for one in indicators.all()]
    dialogs = page.locator(".jp-Dialog").all_inner_texts()
    return f"prompts {prompts}, kernel {status}, dialogs {dialogs}"
