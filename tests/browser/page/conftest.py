"""A lesson's page of two short sections, with audio beside it, opened from disk."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import FIGURE_MIME
from kit.publish.page.exporter import page_html
from kit.tracks.audio import level_audio, tempo_suffix

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
[tiers]
free_levels = ["easy"]
free_kinds = ["handout", "audio"]
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


@pytest.fixture(scope="session")
def lesson(tmp_path_factory) -> Lesson:
    folder = tmp_path_factory.mktemp("page") / "quay"
    (folder / "levels").mkdir(parents=True)
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "tune.abc").write_text(TUNE, encoding="utf-8")
    (folder / "levels/hard.toml").write_text(EDITS, encoding="utf-8")
    return open_lesson(folder)


@pytest.fixture(scope="session")
def built(lesson: Lesson) -> Path:
    notebook = {"cells": CELLS, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    links = ["handouts/easy-alto-sax.pdf", "handouts/easy-tenor-sax.pdf", *_audio(lesson)]
    for audience, path in (("members", "index.html"), ("public", "public/index.html")):
        html = page_html(lesson, notebook, audience=audience, links=links)
        (lesson.folder / path).parent.mkdir(exist_ok=True)
        (lesson.folder / path).write_text(html, encoding="utf-8")
    return lesson.folder


def _audio(lesson: Lesson) -> list[str]:
    """Lay audio beside the page as a build does; the file of one tempo is forgotten."""
    paths = []
    for percent, mixes in ((100, ("demo", "no-bass")), (70, ("demo",))):
        made = level_audio(lesson, "easy", mixes, tempo_percent=percent)
        for mix, audio in made.items():
            path = f"audio/easy-{mix}{tempo_suffix(percent)}.mp3"
            (lesson.folder / path).parent.mkdir(exist_ok=True)
            (lesson.folder / path).write_bytes(audio.data)
            paths.append(path)
    return [*paths, "audio/easy-demo-85.mp3"]


@pytest.fixture
def opened(browser, built):
    """Open the page; whatever the console complains about fails the test at its end."""
    contexts = []
    allowed: list[str] = []

    def open_page(
        *,
        audience: str = "members",
        script: str = "",
        may_complain: tuple[str, ...] = (),
        **settings: Any,
    ):
        settings.setdefault("viewport", {"width": 1280, "height": 900})
        allowed.extend(may_complain)
        context = browser.new_context(**settings)
        if script:
            context.add_init_script(script)
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
        path = "public/index.html" if audience == "public" else "index.html"
        page.goto((built / path).as_uri())
        if settings.get("java_script_enabled", True):
            page.wait_for_function("document.documentElement.dataset.drawn !== undefined")
        return page

    yield open_page
    complaints = [line for c in contexts for p in c.pages for line in p.complaints]
    for context in contexts:
        context.close()
    assert [line for line in complaints if not any(word in line for word in allowed)] == []


@pytest.fixture
def wait_drawn():
    """Wait until the page shows a level and instrument."""

    def wait(page, place: str) -> None:
        page.wait_for_function(
            f"document.documentElement.dataset.drawn === {json.dumps(place)}"
        )

    return wait


@pytest.fixture
def heard_bars():
    """Play until some bars have lit; give each with the sound's clock at that moment.

    The last value is the longest time between two frames: a busy machine draws late, and
    then no program can light a bar between two of its frames.
    """

    def play(page, bars: int) -> tuple[list[tuple[int, float]], float]:
        page.evaluate(
            """() => {
              window.seen = [];
              window.slowest = 0;
              const sheet = document.querySelector(".sheet");
              const sound = document.querySelector("#sound");
              const note = () => {
                window.seen.push([Number(sheet.dataset.litBar), sound.currentTime]);
              };
              const what = { attributeFilter: ["data-lit-bar"] };
              new MutationObserver(note).observe(sheet, what);
              let last = performance.now();
              const frame = (now) => {
                window.slowest = Math.max(window.slowest, (now - last) / 1000);
                last = now;
                requestAnimationFrame(frame);
              };
              requestAnimationFrame(frame);
            }"""
        )
        page.click(".play")
        page.wait_for_function(f"window.seen.filter(([bar]) => bar >= 0).length >= {bars}")
        page.click(".play")
        seen, slowest = page.evaluate("[window.seen, window.slowest]")
        return [(bar, at) for bar, at in seen if bar >= 0], slowest

    return play
