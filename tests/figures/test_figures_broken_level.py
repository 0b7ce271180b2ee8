"""A level that cannot be computed leaves the figures of the others whole."""

import shutil

import pytest

from kit.errors import RouteError
from kit.figures.excerpt import excerpt
from kit.figures.form_chart import form_chart
from kit.figures.player import player
from kit.figures.practice_plan import practice_plan
from kit.figures.problems import problems
from kit.figures.solo_guide import solo_guide
from kit.lesson.lesson import open_lesson

PART = {"level": "beginner", "instrument": "alto-sax"}
DRAWERS = {
    "excerpt": lambda lesson: excerpt(lesson, **PART, findings=True),
    "form chart": lambda lesson: form_chart(lesson, instrument="alto-sax"),
    "player": lambda lesson: player(lesson, level="beginner"),
    "practice plan": lambda lesson: practice_plan(lesson, **PART),
    "problems": problems,
    "solo guide": lambda lesson: solo_guide(lesson, **PART),
}


@pytest.fixture(scope="module")
def broken(tmp_path_factory, small):
    folder = tmp_path_factory.mktemp("lessons") / small.slug
    shutil.copytree(small.folder, folder)
    toml = folder / "lesson.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(
        text.replace('sections = "A" },', 'sections = "Q" },'), encoding="utf-8"
    )
    return open_lesson(folder)


def test_the_broken_level_itself_says_why(broken):
    with pytest.raises(RouteError, match="no section Q"):
        excerpt(broken, level="intermediate", instrument="alto-sax")


@pytest.mark.parametrize("name", DRAWERS)
def test_figures_of_the_other_level_are_drawn(broken, name):
    assert DRAWERS[name](broken).html


def test_the_other_level_reads_in_the_octave_it_has_with_all_levels_whole(broken, small):
    assert DRAWERS["excerpt"](broken).html == DRAWERS["excerpt"](small).html
