"""A lesson that gives nothing away has a public page all the same."""

import pytest

from kit.authoring.start import start_lesson
from kit.lesson.lesson import open_lesson
from kit.publish.page.exporter import page_html

TUNE = """X:1
T:Secret <b>Tune</b>
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""


@pytest.fixture
def lesson(tmp_path):
    (tmp_path / "tune.abc").write_text(TUNE, encoding="utf-8")
    return open_lesson(start_lesson(tmp_path / "tune.abc", tmp_path / "lessons"))


def test_it_names_tune_and_levels_and_holds_no_music(lesson):
    notebook = {"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    html = page_html(lesson, notebook, audience="public")
    assert "Secret &lt;b&gt;Tune&lt;/b&gt;" in html
    assert "Beginner" in html
    assert "Advanced" in html
    assert "<svg" not in html
    assert "<script" not in html
    assert "data:" not in html
