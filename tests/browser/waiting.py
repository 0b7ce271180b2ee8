"""Waiting for what a browser, a kernel or a build does in its own time.

Every wait is for a state. The limit only ends a run in which it never comes, so it is far
beyond what the busiest machine takes.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

__all__ = ["PATIENCE_S", "until"]

PATIENCE_S = 240


def until(claim: Callable[[], object], *, why: str, seconds: float = PATIENCE_S) -> object:
    """Wait until a claim holds and give its value."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        value = claim()
        if value:
            return value
        time.sleep(0.05)
    pytest.fail(f"not within {seconds:g} s: {why}")
