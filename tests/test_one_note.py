"""The developer's page on the way of one note tells the way that it goes."""

import json
import re
import sys
import threading
from concurrent.futures import Future
from pathlib import Path

import pytest
from click.testing import CliRunner

import kit
from kit.build.lesson import build_lesson
from kit.cli import main
from kit.tune.abc.read import read_abc
from kit.tune.musicxml.write import write_musicxml

PAGE = Path(kit.__file__).parents[1] / "docs/developer/one-note.md"
TUNE = """X:1
T:One Note
M:4/4
L:1/4
Q:1/4=200
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""
SETTINGS = """
title = "One Note"
tune = "tune.musicxml"
instruments = ["alto-sax"]
[rights]
basis = "own work"
[tiers]
free_levels = ["ours"]
[audio]
mixes = ["demo"]
[[levels]]
name = "ours"
tempo = 40
edits = "levels/ours.toml"
route = [{ play = "head" }, { play = "head" }]
"""
EDITS = 'over = "tune"\nedits = [{ bar = 2, beat = 3, do = "early", by = "eighth" }]\n'


class Here:
    """Workers that are this thread, so that it can be watched."""

    breakdowns = ()
    count = 1

    def prepare(self):
        """Be ready."""

    def submit(self, call, /, *args):
        future = Future()
        future.set_result(call(*args))
        return future


class Silent:
    """Progress that nobody looks at."""

    def start(self, title, steps):
        """Begin."""

    def step(self, title, left_s=None):
        """Go on."""


def tables():
    """Give the functions of each table, by its heading."""
    for chapter in PAGE.read_text(encoding="utf-8").split("\n## ")[1:]:
        heading = chapter.partition("\n")[0].partition(":")[0]
        yield pytest.param(re.findall(r"^\| `(kit\.[\w.]+)` \|", chapter, re.M), id=heading)


def one_level(lesson):
    """Leave of a new lesson what is soon built: a level, an instrument, no figures."""
    (lesson / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (lesson / "levels/ours.toml").write_text(EDITS, encoding="utf-8")
    notebook = json.loads((lesson / "lesson.ipynb").read_text(encoding="utf-8"))
    notebook["cells"] = [{**notebook["cells"][0], "source": "# One note"}]
    (lesson / "lesson.ipynb").write_text(json.dumps(notebook), encoding="utf-8")


WAYS = list(tables())
NAMED = {name for way in WAYS for name in way.values[0]}


@pytest.fixture(scope="module")
def called(tmp_path_factory):
    """All calls, in order, of what the page names, while a lesson is started and built."""
    folder = tmp_path_factory.mktemp("one-note")
    calls = []
    plain_names = {name.rpartition(".")[2] for name in NAMED}

    def watch(frame, event, _):
        # Asked at every call of any library: first what is soon answered.
        if frame.f_code.co_name in plain_names and event == "call":
            name = f"{frame.f_globals.get('__name__')}.{frame.f_code.co_qualname}"
            if name in NAMED:
                calls.append(name)

    file = folder / "one-note.musicxml"
    file.write_text(write_musicxml(read_abc(TUNE, source="one note")), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("KIT_CACHE", str(folder / "cache"))
        before = sys.gettrace()
        threading.settrace(watch)
        sys.settrace(watch)
        try:
            done = CliRunner().invoke(
                main, ["new", str(file), "--lessons", str(folder / "lessons")]
            )
            assert done.exit_code == 0, done.output
            lesson = folder / "lessons/one-note"
            one_level(lesson)
            build_lesson(lesson, folder / "build", progress=Silent(), workers=Here())
        finally:
            sys.settrace(before)
            threading.settrace(before)
    return calls


@pytest.mark.parametrize("way", WAYS)
def test_a_note_passes_the_functions_of_the_page_in_their_order(way, called):
    assert len(way) > 2
    assert not set(way) - set(called)
    begun = called[called.index(way[0]) :]
    assert way == sorted(way, key=begun.index)
