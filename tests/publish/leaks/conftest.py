"""One small lesson, built for real, whose members' part differs in everything from the
free.
"""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw

from kit.build.execute import executed_notebook
from kit.cache import Cache
from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.leaks.proof import Proof

EASY = """%abc-2.1
X:1
T:Gull
M:4/4
L:1/8
K:Eb
P:A
"Eb"E2 G2 B2 G2 | "Ab"A2 c2 "Bb7"B4 | "Eb"G2 E2 F2 D2 | "Bb7"B,4 z2 FG |
P:B
"Cm"e4 d2 c2 | "F7"c2 =A2 F4 | "Bb7"z2 FA cA F2 | "Eb"E6 z2 |]
"""
HARD = """%abc-2.1
X:1
T:Gull
M:4/4
L:1/8
K:Eb
P:A
"Eb"z G2 B e2 d c | "Ab"e c A2 "Bb7"d B F2 | "Eb"g2 f e d2 B c | "Bb7"f d B A F2 D2 |
P:B
"Cm"e g2 f e c2 d | "F7"=A c e g f2 e c | "Bb7"d f a2 g f d B | "Eb"e6 z2 |]
"""
SETTINGS = """
# Ask the harbour master before printing these pages in colour again.
title = "Gull"
composer = "Traditional"
school = "Quay Street"
summary = "A short tune for a windy day."
instruments = ["alto-sax", "trombone"]

[rights]
basis = "own work"
statement = "Quay Street, 2026."

[tiers]
free_levels = ["easy"]
free_kinds = ["handout", "part", "audio", "midi", "timing", "chapters", "captions"]

[audio]
mixes = ["demo"]
lossless = "flac"

[[levels]]
name = "easy"
tempo = 112
feel = "straight-eighths"
summary = "As it is."
count_in_bars = 1

[[levels]]
name = "hard"
tempo = 120
feel = "medium-swing"
summary = "With colours."
notation = "levels/hard.abc"

[[recording.talk]]
say = "Good evening from the far end of the pier, where the gulls complain."
seconds = 9
"""
MEMBERS = (
    "Lean into every second beat as though the wind were behind you, and let the "
    "half-finished phrase of the pier hang until somebody answers it. Don’t hurry home."
)
"""Prose of a cell for members, cell 4."""


def drawing(seed: int) -> bytes:
    """Draw a picture unlike those of other seeds, as PNG."""
    picture = Image.new("RGB", (320, 200), (250, 248, 240))
    pen = ImageDraw.Draw(picture)
    for step in range(12):
        x, y = (seed * 53 + step * 97) % 280, (seed * 31 + step * 71) % 160
        pen.ellipse((x, y, x + 40, y + 34), fill=(seed * 40 % 200, step * 20, 90))
    kept = io.BytesIO()
    picture.save(kept, "PNG")
    return kept.getvalue()


def _prose(number: int, text: str, *tags: str) -> dict[str, Any]:
    return {
        "cell_type": "markdown", "id": f"cell-{number}", "metadata": {"tags": list(tags)},
        "source": text,
    }  # fmt: skip


def _code(number: int, source: str, *tags: str) -> dict[str, Any]:
    return {
        "cell_type": "code", "id": f"cell-{number}", "metadata": {"tags": list(tags)},
        "source": source, "execution_count": None, "outputs": [],
    }  # fmt: skip


CELLS = [
    _prose(1, "# Gull\n\nA tune for everybody who has ever stood on a pier in October."),
    _code(2, "import kit\nfrom IPython.display import Image\nlesson = kit.open_lesson()"),
    _code(3, "kit.form_chart(lesson)"),
    _prose(4, MEMBERS, "members"),
    _code(5, 'Image(filename="free.png")'),
    _code(6, 'Image(filename="plan.png")', "level:hard"),
    _prose(7, "The old keeper whistles the bridge backwards on Sundays.", "level:hard"),
    _prose(8, "Nobody has been told why the seventh gull was called Margaret.", "hide"),
    _prose(9, "Breathe with the tide, never against the turning.", "level:easy"),
    _prose(10, "Count the lamps along the quay before you count the bars.", "Members"),
    _prose(
        11, "Both of you meet under the clock when the ferry has gone.",
        "level:easy", "level:hard",
    ),
    _prose(12, "Tie the boat first.", "members"),
]  # fmt: skip


@dataclass(frozen=True)
class Built:
    """The finished output, its sources, and its notebook as it was run."""

    folder: Path
    out: Path
    lesson: Lesson
    notebook: dict[str, Any]
    cache: Cache

    def read(self, path: str) -> bytes:
        return (self.out / path).read_bytes()


@dataclass
class Stage:
    """A copy of the output in which a test plants something."""

    built: Built
    place: Path
    entries: list[dict[str, Any]]

    def read(self, path: str) -> bytes:
        return (self.place / path).read_bytes()

    def write(self, path: str, data: bytes) -> None:
        target = self.place / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.unlink(missing_ok=True)  # the copy shares its bytes with the original
        target.write_bytes(data)

    def proof(self) -> Proof:
        built = self.built
        return Proof(built.lesson, built.notebook, self.entries, self.place, built.cache)


@pytest.fixture(scope="session")
def built(tmp_path_factory) -> Built:
    place = tmp_path_factory.mktemp("leaks")
    folder = place / "lessons/gull"
    (folder / "levels").mkdir(parents=True)
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "tune.abc").write_text(EASY, encoding="utf-8")
    (folder / "levels/hard.abc").write_text(HARD, encoding="utf-8")
    (folder / "free.png").write_bytes(drawing(1))
    (folder / "plan.png").write_bytes(drawing(2))
    # The build need not get so far with cells 10 and 11: the proof reads them by itself.
    known = [*CELLS[:9], CELLS[11]]
    notebook = {"cells": known, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    (folder / "lesson.ipynb").write_text(json.dumps(notebook), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build", str(folder), "--out", str(place / "out")],
        capture_output=True, text=True, check=False,
        env={**os.environ, "KIT_CACHE": str(place / "cache")},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    run = executed_notebook(folder / "lesson.ipynb", source="gull/lesson.ipynb")
    run["cells"][9:9] = CELLS[9:11]
    return Built(
        folder, place / "out/gull", open_lesson(folder), run, Cache(place / "cache")
    )


@pytest.fixture
def stage(built: Built, tmp_path: Path) -> Stage:
    place = tmp_path / "stage"
    shutil.copytree(built.out, place, copy_function=os.link)
    files = json.loads(built.read("manifest.json"))["files"]
    shutil.rmtree(place / "teacher")
    return Stage(built, place, [f for f in files if not f["path"].startswith("teacher/")])
