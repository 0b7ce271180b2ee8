"""Waiting for what a browser, a kernel or a build does in its own time.

Every wait is for a state. The limit only ends a run in which it never comes, so it is far
beyond what the busiest machine takes.
"""

from __future__ import annotations

import json
import re
import time
import urllib.request
from collections.abc import Callable
from typing import Any
from urllib.parse import unquote, urlsplit

import pytest

__all__ = ["PATIENCE_S", "all_cells_have_run", "is_idle", "run_all_cells", "until"]

PATIENCE_S = 240


_LOST_AFTER_S = 10
_FRONT = ".jp-NotebookPanel:not(.lm-mod-hidden)"
_CLICK_ONCE = """(found) => found.forEach((button) => {
  if (!button.dataset.answered) { button.dataset.answered = true; button.click(); }
})"""
_ERROR = ".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.error']"


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
    """Run JupyterLab's front notebook until its cells have run and a figure is live.

    Traps (found by trying): a notebook without a kernel counts as idle, and asks for one
    when it is run; each answer starts another kernel in place of the one that was coming,
    and in that hurry the connection may be lost for good. So nothing is run before the
    server says that the notebook is connected, and a question is answered once. "Run All
    Cells" is sometimes lost, or taken back when the kernel starts anew, so it is given
    again while the kernel is idle and no cell shows that it has run. Where the kernel
    starts anew behind the run, the cells keep their numbers and no figure comes to life:
    then it is given again too. A cell that ends in an error fails the test at once.
    """
    buttons = page.locator(".jp-Dialog .jp-mod-accept")
    has_begun = False
    dead_at = float("inf")

    def accept() -> None:
        # Not Playwright's click, which would wait for a button that has gone meanwhile.
        buttons.evaluate_all(_CLICK_ONCE)

    def begins() -> bool:
        before = _marks(page)
        page.locator(".lm-MenuBar-item", has_text="Run").first.click()
        page.locator(".lm-Menu-item", has_text="Run All Cells").first.click()
        lost_at = time.monotonic() + _LOST_AFTER_S
        while _marks(page) == before and time.monotonic() < lost_at:
            page.wait_for_timeout(50)
        return _marks(page) != before

    def has_run() -> bool:
        nonlocal has_begun, dead_at
        accept()
        if not has_begun and is_idle(page) and _is_connected(page):
            has_begun = begins()
            dead_at = float("inf")
        if has_begun and is_idle(page) and not _marks(page):
            has_begun = False
        if not (has_begun and all_cells_have_run(page)):
            return False
        errors = page.locator(f"{_FRONT} {_ERROR}").all_inner_texts()
        if errors:
            pytest.fail(f"a cell ended in an error:\n{errors[0][-3000:]}")
        if page.locator(f"{_FRONT} .lk-live").count():
            return True
        dead_at = min(dead_at, time.monotonic() + _LOST_AFTER_S)
        has_begun = time.monotonic() < dead_at
        return False

    page.add_locator_handler(buttons, accept)
    until(has_run, why=lambda: f"a live figure, but {_state(page)}")
    page.remove_locator_handler(buttons)


def _is_connected(page: Any) -> bool:
    """Ask the server whether the page's notebook has a kernel, and listens to it."""
    place = urlsplit(page.url)
    path = unquote(place.path.partition("/lab/tree/")[2])
    with urllib.request.urlopen(f"{place.scheme}://{place.netloc}/api/sessions") as answer:
        sessions = json.load(answer)
    kernels = [one["kernel"] for one in sessions if one["path"] == path]
    return any(kernel and kernel["connections"] for kernel in kernels)


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
    outputs = page.locator(f"{_FRONT} .jp-OutputArea-output").all_inner_texts()
    shown = [text[:200] for text in outputs]
    return f"prompts {prompts}, kernel {status}, dialogs {dialogs}, outputs {shown}"
