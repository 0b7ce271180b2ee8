"""Tiny tunes, and what is found about them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from kit.check._leaf import Leaf, leaf_of
from kit.instruments.part import Part
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.lesson.lesson import open_lesson
from kit.tune.abc.read import read_abc

HEAD = "X:1\nT:Test\nM:{meter}\nL:1/8\nK:{key}\n"
SETTINGS = """
title = "Test"
instruments = {instruments}
sections = [{{ label = "A", bars = "1-4" }}]
[rights]
basis = "own work"
[[levels]]
name = "beginner"
tempo = 100
feel = "straight-eighths"
"""
NOTEBOOK = {"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
QUIET = '"C"c2 e2 g2 z2 | "F"a2 f2 c2 z2 | "G"g2 d2 B2 z2 | "C"c6 z2 |'
"""Four bars with nothing to say about them."""


def _leaf(
    music: str, *, meter: str = "4/4", key: str = "C", level: str = "beginner"
) -> Leaf:
    text = HEAD.format(meter=meter, key=key) + music + "\n"
    return leaf_of(read_abc(text, source="tune.abc"), level=level)


# Less than an octave, so that a written B or A♯ lies outside wherever it is put.
ROWS = {
    "toy-horn": {
        "name": "Toy horn",
        "written": "M2",
        "range": ["C4", "A4"],
        "levels": {"beginner": ["C4", "G4"]},
    }
}


def _part(of: Leaf, slug: str = "concert", *, level: str = "beginner") -> Part:
    return write_part(of.tune, instrument(slug, ROWS), level=level, octave_shift=0)


@pytest.fixture(scope="session")
def leaf():
    """Read some bars of ABC."""
    return _leaf


@pytest.fixture(scope="session")
def part():
    """Write a leaf out for an instrument, in its usual octave."""
    return _part


@pytest.fixture
def make_lesson(tmp_path):
    """Write a lesson of one level, or more, and open it."""

    def make(music=QUIET, *, key="C", more="", files=(), instruments=("trumpet",)):
        folder = Path(tmp_path) / "test-lesson"
        (folder / "levels").mkdir(parents=True, exist_ok=True)
        text = HEAD.format(meter="4/4", key=key) + music + "\n"
        (folder / "tune.abc").write_text(text, encoding="utf-8")
        settings = SETTINGS.format(instruments=json.dumps(instruments)) + more
        (folder / "lesson.toml").write_text(settings, encoding="utf-8")
        (folder / "lesson.ipynb").write_text(json.dumps(NOTEBOOK), encoding="utf-8")
        for name, content in dict(files).items():
            (folder / name).write_text(content, encoding="utf-8")
        return open_lesson(folder)

    return make
