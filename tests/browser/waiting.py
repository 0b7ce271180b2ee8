"""Waiting for what a browser and a kernel do in their own time."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest

__all__ = ["PATIENCE_S", "until"]

PATIENCE_S = 90


def until(claim: Callable[[], object], *, why: str, seconds: float = PATIENCE_S) -> object:
    """Wait until a claim holds and give its value."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        value = claim()
        if value:
            return value
        time.sleep(0.05)
    pytest.fail(f"not within {seconds:g} s: {why}")
