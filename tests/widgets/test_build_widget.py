"""The build widget: a process of its own, news as it goes, no build from within a build."""

from __future__ import annotations

import json
import os
import shutil
import time
from pathlib import Path

import pytest
from waiting import PATIENCE_S, until

import kit
from kit.build.execute import BUILDING, executed_notebook
from kit.build.process import STOPPED
from kit.build.state import build_state, output_root
from kit.errors import LessonError
from kit.lesson.lesson import open_lesson
from kit.widgets.desk._build_run import BuildRun

SMALL = Path(__file__).resolve().parents[1] / "figures" / "small-lesson"
NOTEBOOK = {
    "cells": [
        {
            "cell_type": "code", "id": "a", "metadata": {}, "execution_count": None,
            "outputs": [], "source": "import kit\nlesson = kit.open_lesson()",
        },
        {
            "cell_type": "code", "id": "b", "metadata": {}, "execution_count": None,
            "outputs": [], "source": "kit.builder(lesson)",
        },
    ],
    "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip


@pytest.fixture
def lesson(tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "lessons" / "small-lesson"
    shutil.copytree(SMALL, folder)
    (folder / "lesson.ipynb").write_text(json.dumps(NOTEBOOK), encoding="utf-8")
    settings = folder / "lesson.toml"
    text = settings.read_text(encoding="utf-8")
    (folder / "lesson.toml").write_text(text, encoding="utf-8")
    return open_lesson(folder)


def press(view, name, **values):
    view._handle_custom_msg({"do": name, "values": values}, [])


def test_a_lesson_is_built_beside_the_notebook_and_then_is_current(lesson):
    view = kit.builder(lesson)
    assert "never built" in view.regions["state"]
    press(view, "build")
    # It goes on by itself: nobody has waited for its first step, let alone its end.
    assert view.run.is_running
    until(lambda: 'data-do="stop"' in view.regions["run"], why="it can be stopped")
    news = view.run.wait(PATIENCE_S)
    assert news.problems == ()
    assert news.outcome == "built"
    assert news.done == news.steps > 5
    assert news.share == 1
    assert ">built<" in view.regions["state"]
    assert f"Built {news.files} files" in view.regions["run"]
    out = output_root(lesson.folder) / "small-lesson"
    assert (out / "index.html").is_file()

    # Nothing has changed: nothing is built.
    press(view, "build")
    assert view.run.wait(PATIENCE_S).outcome == "current"

    # A file has changed: it is named.
    later = time.time() + 5
    os.utime(lesson.folder / "lesson.toml", (later, later))
    text = (lesson.folder / "lesson.toml").read_text(encoding="utf-8")
    (lesson.folder / "lesson.toml").write_text(text + "\n# changed\n", encoding="utf-8")
    os.utime(lesson.folder / "lesson.toml", (later, later))
    state = build_state(lesson.folder, output_root(lesson.folder))
    assert state.kind == "outdated"
    assert state.reasons == ("Changed since: lesson.toml.",)

    # A file of the output is gone.
    (lesson.folder / "lesson.toml").write_text(text, encoding="utf-8")
    (out / "index.html").unlink()
    state = build_state(lesson.folder, output_root(lesson.folder))
    assert state.reasons == ("Files of the output are missing or were changed.",)


def test_an_error_of_the_lesson_is_told_with_its_file(lesson):
    path = lesson.folder / "lesson.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("tempo = ", "tempo = 9"), encoding="utf-8")
    view = kit.builder(lesson)
    press(view, "build")
    news = view.run.wait(PATIENCE_S)
    assert news.outcome == "failed"
    assert any("small-lesson/lesson.toml" in text for text in news.problems)
    assert "small-lesson/lesson.toml" in view.regions["run"]


def test_a_stopped_build_leaves_no_output(lesson):
    view = kit.builder(lesson)
    press(view, "build")
    until(lambda: view.run.news.steps, why="it has begun")
    press(view, "stop")
    assert view.run.wait(PATIENCE_S).outcome == "failed"
    assert view.run.news.problems == (STOPPED,)
    assert not (output_root(lesson.folder) / "small-lesson").exists()


def test_a_build_stopped_before_it_listens_says_so_too(lesson):
    view = kit.builder(lesson)
    press(view, "build")
    press(view, "stop")
    assert view.run.wait(PATIENCE_S).problems == (STOPPED,)
    assert not (output_root(lesson.folder) / "small-lesson").exists()


def test_a_notebook_that_a_build_runs_starts_no_build(lesson, monkeypatch):
    monkeypatch.setenv(BUILDING, "1")
    view = kit.builder(lesson)
    press(view, "build")
    assert "no other is started" in view.problem
    with pytest.raises(LessonError, match="a build is running this notebook"):
        BuildRun(lesson.folder, lesson.folder.parent, print)


def test_a_build_says_so_to_the_notebook_it_runs(lesson):
    path = lesson.folder / "lesson.ipynb"
    call = "import os; print(os.environ.get('KIT_BUILDING'))"
    cell = NOTEBOOK["cells"][0] | {"source": call}
    path.write_text(json.dumps(NOTEBOOK | {"cells": [cell]}), encoding="utf-8")
    done = executed_notebook(path, source="small-lesson/lesson.ipynb")
    assert done.cells[0].outputs[0].text == "1\n"


def test_results_are_opened_from_the_output_folder_and_from_nowhere_else(
    lesson, monkeypatch
):
    opened = []
    monkeypatch.setattr("webbrowser.open", lambda address: opened.append(address) or True)
    view = kit.builder(lesson)
    press(view, "show", what="index.html")
    assert "there is no index.html yet" in view.problem
    page = output_root(lesson.folder) / "small-lesson" / "index.html"
    page.parent.mkdir(parents=True)
    page.write_text("<!doctype html>", encoding="utf-8")
    press(view, "show", what="index.html")
    assert view.problem == ""
    assert opened == [page.as_uri()]
    press(view, "show", what="../../lessons/small-lesson/lesson.toml")
    assert "yet; build the lesson" in view.problem
    assert len(opened) == 1


def test_the_static_form_holds_no_state_that_could_be_wrong_tomorrow(lesson):
    form = kit.builder(lesson).static_form()
    assert set(form) == {"text/html", "text/plain"}
    assert "never" not in form["text/html"].partition("</style>")[2]
