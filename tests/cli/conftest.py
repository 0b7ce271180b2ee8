"""A small complete lesson, and the kit command as a teacher runs it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

TUNE = """X:1
T:Small Tune
C:Nobody
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""

SETTINGS = """
title = "Small Tune"
instruments = ["tenor-sax"]
sections = [{ label = "A", bars = "1-2" }, { label = "B", bars = "3-4" }]
[rights]
basis = "own work"
[[levels]]
name = "plain"
tempo = 200
feel = "straight-eighths"
count_in_bars = 1
edits = "levels/plain.toml"
"""

NOTEBOOK = {
    "cells": [
        {"cell_type": "markdown", "id": "a", "metadata": {}, "source": "# Small Tune"},
        {
            "cell_type": "code", "id": "b", "metadata": {}, "execution_count": None,
            "outputs": [], "source": "import kit\nlesson = kit.open_lesson()",
        },
        {
            "cell_type": "code", "id": "c", "metadata": {}, "execution_count": None,
            "outputs": [], "source": "kit.form_chart(lesson)",
        },
    ],
    "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip


def write_lesson(folder: Path) -> Path:
    """Write the small lesson into a folder."""
    (folder / "levels").mkdir(parents=True)
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "levels/plain.toml").write_text(
        'edits = [\n  { bar = 2, beat = 1, do = "accent" },\n]\n', encoding="utf-8"
    )
    (folder / "lesson.ipynb").write_text(json.dumps(NOTEBOOK), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def command_environment(tmp_path_factory):
    """Give an environment with a cache of its own."""
    return os.environ | {"KIT_CACHE": str(tmp_path_factory.mktemp("cache"))}


@pytest.fixture(scope="session")
def kit_command(command_environment):
    """Run ``kit`` with arguments; give the finished process."""

    def run(*arguments, cwd):
        return subprocess.run(
            [sys.executable, "-m", "kit", *map(str, arguments)],
            cwd=cwd, env=command_environment, capture_output=True, text=True, check=False,
            timeout=240,
        )  # fmt: skip

    return run


@pytest.fixture(scope="session")
def built_workplace(tmp_path_factory, kit_command):
    """A folder with the small lesson, built once."""
    place = tmp_path_factory.mktemp("school")
    write_lesson(place / "lessons/small-tune")
    done = kit_command("build", cwd=place)
    assert done.returncode == 0, done.stderr
    return place


@pytest.fixture
def workplace(built_workplace, tmp_path):
    """A copy of the built folder that a test may break."""
    import shutil

    shutil.copytree(built_workplace, tmp_path / "school")
    return tmp_path / "school"
