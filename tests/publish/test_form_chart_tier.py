"""The form chart of the public page has the changes of a level that is free."""

import re

import pytest

from kit.lesson.lesson import open_lesson
from kit.publish.cells import FigureCall, LessonCell
from kit.publish.page.packs import pack_contents
from kit.publish.page.view import page_levels


@pytest.fixture
def hard_is_free(folder, tmp_path):
    """The lesson of two levels, of which only the second is given away."""
    import shutil

    place = shutil.copytree(folder, tmp_path / "fish")
    settings = place / "lesson.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(
        text.replace('free_levels = ["easy"]', 'free_levels = ["hard"]'), encoding="utf-8"
    )
    return open_lesson(place)


def chords(lesson, audience):
    """Give what stands in the chart as the alto reads it."""
    cells = (LessonCell(figures=(FigureCall("form-chart"),)),)
    levels = page_levels(lesson, audience)
    pack = pack_contents(lesson, cells, levels, levels[-1], "alto-sax")
    return " ".join(re.findall(r">([^<>]+)<", pack["figures"]["f0-0"]))


def test_strangers_see_the_changes_of_the_free_level(hard_is_free):
    public, members = (chords(hard_is_free, who) for who in ("public", "members"))
    # E♭maj9 and F7♯11 at concert pitch are of the second level only.
    assert "Cmaj9" in public
    assert "D7♯11" in public
    assert "Cmaj9" not in members
