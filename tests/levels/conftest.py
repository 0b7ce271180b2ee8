"""Tiny tunes for these tests, written in ABC."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from kit.tune.abc.read import read_abc
from kit.tune.model import Tune

AABA = Path(__file__).parent.parent / "form" / "aaba.abc"


@pytest.fixture
def aaba() -> Tune:
    return read_abc(AABA.read_text(encoding="utf-8"), source="aaba.abc")


@pytest.fixture
def build() -> Callable[..., Tune]:
    def read(body: str, key: str = "C", meter: str = "4/4") -> Tune:
        head = f"X:1\nT:Test tune\nM:{meter}\nL:1/4\nK:{key}\n"
        return read_abc(head + body, source="test.abc")

    return read
