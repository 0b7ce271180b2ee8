"""What a piece of a build depends on: all that changes it, and nothing else."""

import json
import os
import shutil
import subprocess
import sys

import pytest

from kit.build._jobs import early_jobs, notebook_job, pack_jobs, sheet_jobs
from kit.build._recipe import Recipes
from kit.build.identity import lesson_hashes
from kit.cache import Cache
from kit.lesson.lesson import open_lesson


@pytest.fixture
def place(folder, tmp_path):
    """A copy of the lesson that a test may change."""
    return shutil.copytree(folder, tmp_path / folder.name)


@pytest.fixture
def listed(place, notebook, tmp_path):
    """Give the recipes of all jobs by name, as the files are now."""
    cache = Cache(tmp_path / "cache")

    def recipes(words=notebook):
        lesson = open_lesson(place)
        blob = cache.keep(json.dumps(words).encode())
        cook = Recipes(lesson, lesson_hashes(place), cache)
        jobs = [
            notebook_job(lesson), *early_jobs(lesson), *sheet_jobs(lesson, blob),
            *pack_jobs(lesson, blob),
        ]  # fmt: skip
        return {job.name: cook.of(job) for job in jobs}

    return recipes


def changed(before, after):
    return {
        name: {part for part in recipe if recipe[part] != before.get(name, {}).get(part)}
        for name, recipe in after.items()
        if recipe != before.get(name)
    }


def rewrite(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_comment_changes_the_notebook_alone(place, listed):
    before = listed()
    rewrite(place / "lesson.toml", "[rights]", "# a word\n[rights]")
    assert changed(before, listed()) == {"notebook:::members:100": {"lesson.toml"}}


def test_a_note_of_one_level_leaves_the_other_levels_alone(place, listed):
    before = listed()
    rewrite(place / "levels/hard.abc", '"F7#11"c2', '"F7#11"d2')
    found = changed(before, listed())
    assert not [name for name in found if ":easy:" in name and "sheets" in name]
    assert found["audio:hard::members:100"] == {"the notes"}
    assert "the notes" in found["sheets:hard:flute:members:100"]


def test_a_note_of_the_lower_level_reaches_what_compares_with_it(place, listed):
    before = listed()
    rewrite(place / "tune.abc", '"F7"c2', '"F7"d2')
    found = changed(before, listed())
    assert "audio:hard::members:100" not in found
    assert found["sheets:hard:flute:members:100"] == {"the level below"}
    assert "the levels beside it" in found["pack:hard:flute:members:100"]


def test_words_for_one_level_reprint_that_levels_handouts_only(listed, notebook):
    before = listed()
    cells = [
        {**cell, "source": "Harder words."} if cell["source"] == "Hard words." else cell
        for cell in notebook["cells"]
    ]
    found = changed(before, listed({**notebook, "cells": cells}))
    assert set(found) == {
        f"sheets:hard:{horn}:members:100" for horn in ("alto-sax", "trombone", "flute")
    }


def test_an_instrument_more_leaves_those_that_were_there_alone(place, listed):
    before = listed()
    rewrite(place / "lesson.toml", '"flute"]', '"flute", "tenor-sax"]')
    found = changed(before, listed())
    assert not [name for name in found if name.split(":")[2] in ("flute", "trombone")]
    assert "sheets:easy:tenor-sax:members:100" in found


def test_the_default_instrument_is_heard_and_not_read(place, listed):
    before = listed()
    rewrite(place / "lesson.toml", '= "alto-sax"', '= "flute"')
    kinds = {name.split(":")[0] for name in changed(before, listed())}
    assert kinds == {"notebook", "audio", "stems", "timing", "recording"}


@pytest.mark.parametrize(
    ("old", "new", "in_tags"),
    [
        ("Quay Street. #let", "Quay Street 2027. #let", True),
        ("A short tune.", "A shorter tune.", False),
    ],
)
def test_words_on_every_sheet_reprint_every_sheet(place, listed, old, new, in_tags):
    before = listed()
    rewrite(place / "lesson.toml", old, new)
    found = changed(before, listed())
    sheets = [name for name in before if name.startswith("sheets")]
    assert all("the settings" in found[name] for name in sheets)
    assert any(name.startswith("audio") for name in found) == in_tags


ALL_RECIPES = """
import json, sys
from pathlib import Path
from kit.cache import Cache
from kit.lesson.lesson import open_lesson
from kit.build._jobs import early_jobs, pack_jobs, sheet_jobs
from kit.build._recipe import Recipes

lesson, cache = open_lesson(sys.argv[1]), Cache(Path(sys.argv[2]))
words = cache.keep(Path(sys.argv[3]).read_bytes())
jobs = early_jobs(lesson) + sheet_jobs(lesson, words) + pack_jobs(lesson, words)
recipes = Recipes(lesson, {}, cache)
print(json.dumps({job.name: recipes.of(job) for job in jobs}))
"""


def test_a_recipe_is_the_same_in_every_process(place, notebook, tmp_path):
    run = tmp_path / "run.json"
    run.write_text(json.dumps(notebook), encoding="utf-8")
    command = [sys.executable, "-c", ALL_RECIPES, place, tmp_path / "cache", run]
    told = [
        subprocess.run(
            command,
            env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True,
        ).stdout
        for seed in ("1", "2")
    ]  # fmt: skip
    assert json.loads(told[0])
    assert told[0] == told[1]
