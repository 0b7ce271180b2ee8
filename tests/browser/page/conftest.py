"""A lesson's page of two short sections, with audio beside it, from disk or from a site."""

from __future__ import annotations

import base64
import json
import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np
import pytest

from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.cells import FIGURE_MIME, cells_for_page, read_cells
from kit.publish.page.beside import (
    STRETCH_PATH,
    band_path,
    melody_path,
    pack_file,
    pack_path,
    stems_file,
    stretch_file,
)
from kit.publish.page.exporter import page_html
from kit.publish.page.packs import pack_contents, packed
from kit.publish.page.view import page_levels
from kit.tracks.audio import level_audio
from kit.tracks.stems import BAND, level_stems

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
    """The pages with all they fetch, laid out as a build does."""
    notebook = {"cells": CELLS, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    links = ["handouts/easy-alto-sax.pdf", "handouts/easy-tenor-sax.pdf", *_audio(lesson)]
    for audience, folder in (("members", ""), ("public", "public/")):
        packs = _packs(lesson, notebook, audience, folder)
        page = partial(page_html, lesson, notebook, audience=audience, links=links)
        _lay(lesson, f"{folder}index.html", page(packs=packs).encode())
        _lay(lesson, f"{folder}{STRETCH_PATH}", stretch_file())
    stems = {p: (lesson.folder / p).read_bytes() for p in links if p.endswith(".js")}
    whole = page_html(lesson, notebook, audience="members", stems=stems, inside=True)
    # Alone in a folder, as it comes by mail.
    _lay(lesson, "mailed/one-file.html", whole.encode())
    return lesson.folder


def _lay(lesson: Lesson, path: str, data: bytes) -> None:
    (lesson.folder / path).parent.mkdir(exist_ok=True, parents=True)
    (lesson.folder / path).write_bytes(data)


def _packs(
    lesson: Lesson, notebook: dict[str, Any], audience: str, folder: str
) -> dict[str, str]:
    cells = cells_for_page(
        read_cells(notebook, levels=lesson.level_names, source="lesson.ipynb"),
        audience=audience,
        free_levels=lesson.settings.tiers.free_levels,
    )
    levels = page_levels(lesson, audience)
    found = {}
    for level in levels:
        for horn in lesson.settings.instruments:
            name = f"{level}/{horn.slug}"
            found[name] = packed(pack_contents(lesson, cells, levels, level, horn.slug))
            path = f"{folder}{pack_path(level, horn.slug)}"
            _lay(lesson, path, pack_file(name, found[name]))
    return found


def _audio(lesson: Lesson) -> list[str]:
    """Lay audio beside the page: finished mixes of one level, and the stems of both."""
    files = {
        f"audio/easy-{mix}.mp3": audio.data
        for mix, audio in level_audio(lesson, "easy", ("demo", "no-bass")).items()
    }
    for level in lesson.level_names:
        files[band_path(level)] = stems_file(level, level_stems(lesson, level, BAND))
        # The trombone has none: whoever reads its part hears another instrument.
        for slug in ("alto-sax", "tenor-sax"):
            melody = level_stems(lesson, level, ("melody",), instrument=slug)
            files[melody_path(level, slug)] = stems_file(level, melody)
    for path, data in files.items():
        _lay(lesson, path, data)
    return list(files)


@pytest.fixture
def opened(browser, built):
    """Open the page; whatever the console complains about fails the test at its end."""
    contexts = []
    allowed: list[str] = []

    def open_page(
        *,
        audience: str = "members",
        name: str = "index.html",
        address: str = "",
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
        path = f"public/{name}" if audience == "public" else name
        page.goto(f"{address}/{path}" if address else (built / path).as_uri())
        if settings.get("java_script_enabled", True):
            page.wait_for_function("document.documentElement.dataset.drawn !== undefined")
        return page

    yield open_page
    complaints = [line for c in contexts for p in c.pages for line in p.complaints]
    for context in contexts:
        context.close()
    assert [line for line in complaints if not any(word in line for word in allowed)] == []


class _Quiet(SimpleHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        if self.path != "/favicon.ico":
            super().do_GET()
            return
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Say nothing of what is asked for."""


@pytest.fixture(scope="session")
def served(built) -> Iterator[str]:
    """The same folder on a site."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(built)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    server.server_close()


# The page's own engine, but in a context that renders into memory: as fast as it can, and
# every sample of it.
_INTO_MEMORY = """
  const Offline = OfflineAudioContext;
  window.AudioContext = function () {
    const room = new Offline(2, %d * 48000, 48000);
    room.resumeRendering = room.resume;
    room.resume = async () => {};
    window.room = room;
    return room;
  };
"""
_RENDER = """async (acts) => {
  const { clock } = document.querySelector(".player");
  for (const [second, text] of acts) {
    room.suspend(second).then(async () => {
      new Function("clock", text)(clock);
      // The order must have reached the mixer before time goes on.
      await new Promise((done) => setTimeout(done, 150));
      room.resumeRendering();
    });
  }
  const sound = await room.startRendering();
  const left = sound.getChannelData(0), right = sound.getChannelData(1);
  const both = left.map((sample, n) => (sample + right[n]) / 2);
  const bytes = new Uint8Array(both.buffer);
  let text = "";
  for (let n = 0; n < bytes.length; n += 32768) {
    text += String.fromCharCode(...bytes.subarray(n, n + 32768));
  }
  return btoa(text);
}"""
Recorder = Callable[..., np.ndarray]


@pytest.fixture
def recorded(opened) -> Recorder:
    """Give what the page's engine plays, left and right together, at 48 kHz.

    `prepare` gets the page before it plays, its sound panel open; `acts` are pieces of
    script to be run at seconds of the recording (multiples of 128 samples), with the page's
    `clock`.
    """

    def record(seconds: int, prepare=None, acts=()) -> np.ndarray:
        page = opened(script=_INTO_MEMORY % seconds)
        page.click("#more")
        if prepare is not None:
            prepare(page)
        page.click(".play")
        clock = "document.querySelector('.player').clock"
        page.wait_for_function(
            f"{clock}.music.progress === 1 && {clock}.sound.speed === {clock}.percent / 100"
        )
        page.wait_for_timeout(200)
        text = page.evaluate(_RENDER, list(acts))
        return np.frombuffer(base64.b64decode(text), "<f4").astype(np.float64)

    return record


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
              const { clock } = document.querySelector(".player");
              const note = () => {
                window.seen.push([Number(sheet.dataset.litBar), clock.place]);
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
