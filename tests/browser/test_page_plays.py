"""The lesson's page in a real Chromium, opened from disk, sound and all."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest

from kit.lesson import Lesson, open_lesson
from kit.publish.cells import FIGURE_MIME
from kit.publish.page import page_html

pytestmark = pytest.mark.browser

TUNE = """%abc-2.1
X:1
T:Quay
M:4/4
L:1/8
K:Cmin
P:A
"G7"G2 | "Cm7"C2 E2 G4 | "Fm7"A2 G2 F4 | "Dm7b5"F2 A2 "G7"G2 D2 | "Cm6"C6 z2 ||
P:B
"Fm7"c4 A4 | "Bb7"B4 d4 | "Ebmaj7"e4 d4 | "G7b9"=B6 z2 |]
"""

SETTINGS = """
title = "Quay"
school = "Quay Street"
summary = "Two short sections."
instruments = ["alto-sax", "tenor-sax", "trombone"]
default_instrument = "alto-sax"
[rights]
basis = "own work"
statement = "Written for this test."
[[levels]]
name = "easy"
tempo = 180
feel = "straight-eighths"
count_in_bars = 1
[[levels]]
name = "hard"
tempo = 240
feel = "medium-swing"
edits = "levels/hard.toml"
route = [
  { play = "head" },
  { play = "solo", sections = "A" },
  { play = "head", sections = "B", tag = { bars = 2, times = 2 } },
]
"""

EDITS = 'over = "easy"\nedits = [\n  { bar = 1, beat = 1, do = "accent" },\n]\n'


def prose(text: str, *tags: str) -> dict[str, Any]:
    return {
        "cell_type": "markdown", "id": f"p{crc32(text.encode())}",
        "metadata": {"tags": list(tags)}, "source": text,
    }  # fmt: skip


def figure(show: str, **options: Any) -> dict[str, Any]:
    data = {FIGURE_MIME: {"version": 1, "show": show, **options}}
    return {
        "cell_type": "code", "id": f"f-{show}", "metadata": {}, "source": "x",
        "execution_count": 1,
        "outputs": [{"output_type": "display_data", "metadata": {}, "data": data}],
    }  # fmt: skip


CELLS = [
    prose("# Quay\n\nTwo short sections."),
    prose("## The form"),
    figure("form-chart"),
    figure("excerpt", section="B"),
    prose("## Levels\n\nCompare them."),
    prose("Only when hard.", "level:hard"),
    figure("comparison", lower="easy", upper="hard"),
    figure("solo-guide"),
    prose("## Practice"),
    figure("practice-plan"),
    figure("player", level="hard", mix="melody"),
]


@pytest.fixture(scope="module")
def lesson(tmp_path_factory) -> Lesson:
    folder = tmp_path_factory.mktemp("page") / "quay"
    (folder / "levels").mkdir(parents=True)
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "levels/hard.toml").write_text(EDITS, encoding="utf-8")
    return open_lesson(folder)


@pytest.fixture(scope="module")
def file(lesson: Lesson) -> Path:
    notebook = {"cells": CELLS, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    links = ["handouts/easy-alto-sax.pdf", "handouts/easy-tenor-sax.pdf"]
    path = lesson.folder / "index.html"
    html = page_html(lesson, notebook, audience="members", links=links)
    path.write_text(html, encoding="utf-8")
    return path


@pytest.fixture
def opened(browser, file):
    """Open the page; whatever the console complains about fails the test at its end."""
    contexts = []

    def open_page(**settings: Any):
        settings.setdefault("viewport", {"width": 1280, "height": 900})
        context = browser.new_context(**settings)
        contexts.append(context)
        page = context.new_page()
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console",
            lambda line: (
                complaints.append(line.text) if line.type in ("error", "warning") else None
            ),
        )
        page.complaints = complaints
        page.goto(file.as_uri())
        if settings.get("java_script_enabled", True):
            page.wait_for_function("document.documentElement.dataset.drawn !== undefined")
        return page

    yield open_page
    complaints = [line for c in contexts for p in c.pages for line in p.complaints]
    for context in contexts:
        context.close()
    assert complaints == []


def drawn(page, place: str) -> None:
    page.wait_for_function(
        f"document.documentElement.dataset.drawn === {json.dumps(place)}"
    )


def test_the_lit_bar_is_the_one_the_clock_says(opened, lesson):
    page = opened()
    page.evaluate(
        """() => {
          window.seen = [];
          const sheet = document.querySelector(".sheet");
          const sound = document.querySelector("#sound");
          const note = () => window.seen.push([sheet.dataset.litBar, sound.currentTime]);
          const what = { attributes: true, attributeFilter: ["data-lit-bar"] };
          new MutationObserver(note).observe(sheet, what);
        }"""
    )
    page.click(".play")
    page.wait_for_function(
        "window.seen.filter(([bar]) => bar !== '-1').length >= 5", timeout=20_000
    )
    page.click(".play")
    route = lesson.level("easy").route
    starts = route.bar_starts(lesson.level("easy").tempo_qpm)
    seen = [
        (int(bar), seconds) for bar, seconds in page.evaluate("window.seen") if bar != "-1"
    ]
    expected = [
        (bar.sheet_index, start) for bar, start in zip(route.bars, starts, strict=True)
    ]
    assert [bar for bar, _ in seen[:5]] == [bar for bar, _ in expected[:5]]
    for (_, heard), (_, planned) in zip(seen[:5], expected[:5], strict=True):
        # The clock may have moved on by a frame before the observer is called.
        assert -0.005 <= heard - planned <= 0.05


def test_choosing_an_instrument_changes_the_key_and_is_remembered(opened):
    page = opened()
    assert "in A minor" in page.inner_text("#stage-title")
    page.select_option("#instrument", "tenor-sax")
    drawn(page, "easy/tenor-sax")
    assert "Tenor saxophone, easy, in D minor" in page.inner_text("#stage-title")
    assert "Dm7" in page.inner_html(".sheet .wide")
    assert page.is_visible('[data-handout="tenor-sax"] a')
    assert not page.is_visible('[data-handout="alto-sax"] a')
    page.reload()
    drawn(page, "easy/tenor-sax")
    assert page.input_value("#instrument") == "tenor-sax"


def test_choosing_a_level_changes_music_words_and_passages(opened):
    page = opened()
    assert not page.is_visible("text=Only when hard.")
    page.check('.levels input[value="hard"]', force=True)
    drawn(page, "hard/alto-sax")
    assert page.is_visible("text=Only when hard.")
    kinds = page.locator(".strip-kind").all_inner_texts()
    assert [kind.lower() for kind in kinds] == ["head", "solo", "head", "tag"]


def test_clicking_a_bar_plays_from_it(opened, lesson):
    page = opened()
    light = page.locator('.sheet .wide .bar-light[data-bar="6"]')
    light.scroll_into_view_if_needed()
    box = light.bounding_box()
    # In the middle of a bar lies a staff line, which must not swallow the click.
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_function("!document.querySelector('#sound').paused")
    start = lesson.level("easy").route.bar_starts(lesson.level("easy").tempo_qpm)[6]
    now = page.evaluate("document.querySelector('#sound').currentTime")
    assert start - 0.01 <= now <= start + 1.0
    page.click(".play")


def test_a_passage_is_looped(opened, lesson):
    page = opened()
    page.click("#more")
    page.select_option("#loop", "1")
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    page.evaluate(f"document.querySelector('#sound').currentTime = {starts[8] + 0.9}")
    page.click(".play")
    page.wait_for_function(
        f"document.querySelector('#sound').currentTime < {starts[6]}", timeout=10_000
    )
    now = page.evaluate("document.querySelector('#sound').currentTime")
    assert now >= starts[5] - 0.01
    page.click(".play")


def test_tempo_changes_the_rate_and_says_the_beats(opened):
    page = opened()
    page.click("#more")
    page.fill("#tempo", "50")
    assert page.evaluate("document.querySelector('#sound').playbackRate") == 0.5
    assert page.inner_text("#tempo-words") == "50 %, 90 beats a minute"
    page.check('.levels input[value="hard"]', force=True)
    drawn(page, "hard/alto-sax")
    page.click(".play")
    page.wait_for_function("document.querySelector('#sound').currentTime > 0.2")
    assert page.evaluate("document.querySelector('#sound').playbackRate") == 0.5
    page.click(".play")


def test_a_player_in_the_text_starts_its_own_mix(opened):
    page = opened()
    page.click("text=Play this")
    drawn(page, "hard/alto-sax")
    page.wait_for_function("!document.querySelector('#sound').paused")
    assert page.evaluate("document.querySelector('#mix').value") == "melody"
    page.click(".play")


def test_ticked_steps_stay_ticked(opened):
    page = opened()
    page.locator('[data-kind="practice-plan"] input[type="checkbox"]').first.check()
    page.reload()
    drawn(page, "easy/alto-sax")
    assert page.locator(
        '[data-kind="practice-plan"] input[type="checkbox"]'
    ).first.is_checked()


def test_the_keyboard_starts_and_stops_the_sound(opened):
    page = opened()
    page.focus(".play")
    page.keyboard.press("Enter")
    page.wait_for_function("!document.querySelector('#sound').paused")
    page.wait_for_selector('.play[aria-label="Pause"]')
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelector('#sound').paused")


@pytest.mark.parametrize("level", ["easy", "hard"])
def test_nothing_runs_over_the_edge_of_a_small_telephone(opened, level):
    page = opened(viewport={"width": 360, "height": 740}, is_mobile=True)
    page.check(f'.levels input[value="{level}"]', force=True)
    drawn(page, f"{level}/alto-sax")
    page.click("#more")
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    assert page.is_visible(".sheet .narrow svg")
    assert not page.is_visible(".sheet .wide svg")


def test_without_script_the_music_can_be_read_and_no_dead_control_shows(opened):
    page = opened(java_script_enabled=False)
    assert page.is_visible(".sheet .wide svg")
    assert page.is_visible("text=The form")
    for control in (".play", "#instrument", "#seek"):
        assert not page.is_visible(control)


def test_paper_shows_music_and_words_without_controls(opened):
    page = opened()
    page.emulate_media(media="print")
    assert page.is_visible(".sheet .wide svg")
    for control in (".player", ".choices", ".strip"):
        assert not page.is_visible(control)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 360])
def test_axe_finds_nothing_serious(opened, scheme, width):
    from axe_playwright_python.sync_playwright import Axe

    page = opened(viewport={"width": width, "height": 800}, color_scheme=scheme)
    page.click("#more")
    results = Axe().run(page).response["violations"]
    grave = [
        (entry["id"], entry["nodes"][0]["html"][:200])
        for entry in results
        if entry["impact"] in ("serious", "critical")
    ]
    assert grave == []
