"""What a stranger sees: one page for the teacher that leaves nothing out."""

from __future__ import annotations

import html
import json
import re
from itertools import pairwise

import pytest
from axe_playwright_python.sync_playwright import Axe

from .conftest import MEMBERS, Built

PAGE = "teacher/what-a-stranger-sees.html"
ROW = r'<tr><th scope="row">([^<]+)</th><td>[^<]+</td><td[^>]*>([^<]+)</td></tr>'
SAID = r'(?s)<h[45]>{} <small>.*?<ul class="said">(.*?)</ul>'


@pytest.fixture(scope="module")
def source(built: Built) -> str:
    return built.read(PAGE).decode()


@pytest.fixture(scope="module")
def words(source: str) -> str:
    shown = re.sub(r"(?s)<(style)\b.*?</\1>", "", source)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", shown)).split())


def test_every_public_file_is_listed_with_its_size(built: Built, source: str):
    files = json.loads(built.read("manifest.json"))["files"]
    free = {file["path"] for file in files if file["tier"] == "free"}
    rows = re.findall(ROW, source)
    listed = {name for name, size in rows if re.search(r"\d (bytes|kB|MB)$", size)}
    assert listed == free
    assert f"Files {len(free)}" in re.sub(r"<[^>]+>|\s+", " ", source).replace("  ", " ")


def test_the_teachers_sentences_stand_apart_from_computed_ones(source: str):
    own = " ".join(re.findall(SAID.format("Your words"), source))
    computed = " ".join(re.findall(SAID.format("Computed"), source))
    assert "A tune for everybody who has ever stood on a pier in October." in own
    assert "A short tune for a windy day." in own
    assert "stood on a pier" not in computed
    assert "Bar 1" in computed
    assert "Move on when it goes well twice in a row." in computed


def test_every_second_of_sound_has_a_row(built: Built, words: str):
    files = json.loads(built.read("manifest.json"))["files"]
    sounds = [f for f in files if f["tier"] == "free" and "seconds" in f]
    assert sounds
    for sound in sounds:
        assert re.search(rf"{sound['path']}.*? {sound['seconds']:.1f} s", words)
    assert words.count("public/index.html in the page itself") == 1
    assert "Head A bars 1–4 0:" in words


def test_pictures_are_shown_and_the_members_is_not(source: str):
    # The notebook's own and the cover that players show.
    assert len(re.findall(r'<img src="data:image/png;base64,', source)) == 2


def test_what_is_not_public_is_told_in_a_line_for_each_level(words: str, source: str):
    assert "Easy: its loops and videos. All else is public." in words
    assert "Hard: its notes, chords, words, sound and files." in words
    assert "Cells 4, 6–8 and 10 of the notebook." in words
    assert MEMBERS[:30] not in source


def test_it_stands_alone(source: str):
    assert not re.findall(r'(?:src|href)="(?!data:|#)', source)
    assert "<script" not in source


def test_headings_are_in_order(source: str):
    levels = [int(level) for level in re.findall(r"<h([1-6])", source)]
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 1280])
def test_it_can_be_read_by_all_on_any_screen(browser, built: Built, width: int):
    context = browser.new_context(viewport={"width": width, "height": 900})
    page = context.new_page()
    page.goto((built.out / PAGE).as_uri())
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert Axe().run(page).violations_count == 0
    context.close()
