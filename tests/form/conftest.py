"""Tiny tunes for the form tests, written in ABC."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from kit.tune.abc.read import read_abc
from kit.tune.model import Tune


@pytest.fixture
def aaba() -> Tune:
    text = Path(__file__).with_name("aaba.abc").read_text(encoding="utf-8")
    return read_abc(text, source="aaba.abc")


@pytest.fixture
def build() -> Callable[..., Tune]:
    def read(body: str, key: str = "C", meter: str = "4/4") -> Tune:
        head = f"X:1\nT:Test tune\nM:{meter}\nL:1/4\nK:{key}\n"
        return read_abc(head + body, source="test.abc")

    return read


@pytest.fixture
def chart(build) -> Callable[..., Tune]:
    """A tune of one long note a bar over chords given as ``Dm7 G7 | C6``."""

    def read(text: str, key: str = "C") -> Tune:
        bars = []
        for bar in text.split("|"):
            symbols = bar.split()
            note = {1: "c4", 2: "c2", 4: "c"}[len(symbols)]
            bars.append(" ".join(f'"{symbol}"{note}' for symbol in symbols))
        return build("|".join(bars) + "|]", key)

    return read


@pytest.fixture
def marked() -> Callable[..., Tune]:
    def mark(music: Tune, marks: dict[int, str]) -> Tune:
        bars = enumerate(music.bars)
        return replace(
            music, bars=tuple(replace(b, section=marks.get(k, "")) for k, b in bars)
        )

    return mark
