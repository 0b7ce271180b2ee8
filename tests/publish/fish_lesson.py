"""A lesson with a pick-up, a repeat, two levels of which one is free, and hostile words."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from zlib import crc32

import pytest

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import FIGURE_MIME

TITLE = 'Fish & <b>Chips</b> #"\\$[x]" Ünïcode'

TUNE = """%abc-2.1
X:1
T:Fish
M:4/4
L:1/8
K:Eb
P:A
"Bb7"FG |: "Eb"E2 G2 B2 G2 | "Ab"A2 c2 "Bb7"B4 | "Eb"G2 E2 F2 D2 | "Bb7"B,4 z2 FG :|
P:B
"Cm"e4 d2 c2 | "F7"c2 =A2 F4 | "Bb7"z2 FA cA F2 | "Eb"E6 ||
"""

ADVANCED = """%abc-2.1
X:1
T:Fish
M:4/4
L:1/8
K:Eb
P:A
"Bb7"FG |: "Ebmaj9"E2 G2 B2 G2 | "Ab"A2 c2 "Bb13"B4 | "Eb"G2 E2 F2 D2 | "Bb7"B,4 z2 FG :|
P:B
"Cm"e4 d2 c2 | "F7#11"c2 =A2 F4 | "Bb7"z2 FA cA F2 | "Eb"E6 ||
"""

SETTINGS = """
title = 'Fish & <b>Chips</b> #"\\$[x]" Ünïcode'
composer = "Anna </script><script>alert(1)</script>"
school = "Quay Street & Sons"
summary = "A short tune."
instruments = ["alto-sax", "trombone", "flute"]
default_instrument = "alto-sax"

[rights]
basis = "own work"
statement = "© 2026 Quay Street. #let x = 1 *not bold*"

[tiers]
free_levels = ["easy"]
free_kinds = ["handout", "audio"]

[[levels]]
name = "easy"
tempo = 112
feel = "straight-eighths"
summary = "As it is."
count_in_bars = 1

[[levels]]
name = "hard"
tempo = 173
feel = "medium-swing"
summary = "With colours."
notation = "levels/hard.abc"
route = [
  { play = "head" },
  { play = "solo", sections = "AA" },
  { play = "head", sections = "B", tag = { bars = 2, times = 3 } },
]
"""


def prose(text: str, *tags: str) -> dict[str, Any]:
    return {
        "cell_type": "markdown", "id": f"p{crc32(text.encode())}",
        "metadata": {"tags": list(tags)}, "source": text,
    }  # fmt: skip


def figure(show: str, *tags: str, **options: Any) -> dict[str, Any]:
    data = {FIGURE_MIME: {"version": 1, "show": show, **options}, "text/plain": show}
    output = {"output_type": "display_data", "metadata": {}, "data": data}
    return {
        "cell_type": "code", "id": f"f{crc32(repr((show, options)).encode())}",
        "metadata": {"tags": list(tags)}, "source": "kit.figure(lesson)",
        "execution_count": 1, "outputs": [output],
    }  # fmt: skip


@pytest.fixture(scope="session")
def folder(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("lessons") / "fish"
    (folder / "levels").mkdir(parents=True)
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "levels/hard.abc").write_text(ADVANCED, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def lesson(folder: Path) -> Lesson:
    return open_lesson(folder)


@pytest.fixture(scope="session")
def notebook() -> dict[str, Any]:
    cells = [
        prose(f"# {TITLE}\n\nPlain *words* first. <script>alert(2)</script>"),
        prose(
            "## How it goes\n\n- one\n- two\n\n1. do `this`\n\n"
            "| a | b |\n|---|---|\n| 1 | 2 |"
        ),
        figure("form-chart"),
        figure("excerpt"),
        prose("Easy words.", "level:easy"),
        prose("Hard words.", "level:hard"),
        prose("Members words.", "members"),
        prose("Paper words.", "handout-only"),
        prose("Screen words.", "page-only"),
        prose("Hidden words.", "hide"),
        figure("comparison", lower="easy", upper="hard"),
        figure("solo-guide", level="hard"),
        prose("## Practice"),
        figure("practice-plan"),
        figure("player", level="easy", mix="backing"),
    ]
    return {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
