"""What check passes can be built: lessons put together at random from odd but usual pieces.

A seed draws the pieces; the larger run over many seeds is a program of
``tests/benchmarks``. A lesson that check refuses needs a sentence with its file, no more.
"""

from __future__ import annotations

import json
import random
from concurrent.futures import Future
from typing import Any

import pytest

from kit.build.lesson import build_lesson
from kit.check.lesson import check_lesson

DRAWN, BUILT = 120, 6
SEED = 13

WORDS = (
    "Lamp",
    "Blues ♭ & <b>♯</b>",
    "été à Łódź",
    "a\ufeffb",
    "𝄫",
    "half ½",
    "#let x = 1",
    "\\",
    '"',
    "Sax 🎷",
    "\u5915",
    "bell\x07",
    "x" * 200,
    "_",
    "*a* `b` $c$",
    "l'été — “so”",
)
PROSE = (
    "# Lamp\n\nWords.",
    "> ##### five\n\n- a\n  - b",
    "| a | b |\n|---|--:|\n| 1 |",
    "> " * 30 + "x",
    "`code` [x](http://example.org/🎷) ![p](attachment:no.png)",
    "<script>alert(1)</script>",
    "&#0; &nbsp; &amp;",
    "1. one\n\n7. two",
    "###### six\n\n# one",
    "",
    "***",
    "**",
    "\x00",
    "🎷",
    "~~x~~ <http://example.org>",
    "\ud800",
    "# " + "long " * 60,
    "```\ncode\n```",
)
CODE = (
    "kit.excerpt(lesson)",
    "kit.excerpt(lesson, section='A')",
    "kit.excerpt(lesson, section='9')",
    "kit.excerpt(lesson, bars=(1, 2), key='G')",
    "kit.excerpt(lesson, level='hard')",
    "kit.comparison(lesson)",
    "kit.player(lesson, mix='backing')",
    "kit.player(lesson, mix='x')",
    "kit.form_chart(lesson)",
    "kit.nothing(lesson)",
    "x = [n for n in range(3)]",
    "undefined",
    "%time x = 3",
    "1 +",
    "kit.practice_plan(lesson, instrument='flute')",
    "kit.solo_guide(lesson)",
)
TAGS = (
    (),
    (),
    (),
    (),
    ("members",),
    ("level:plain",),
    ("hide",),
    ("page-only", "handout-only"),
    ("parameters",),
    ("Members",),
    ("level:hard",),
    ("remove-output",),
    ("raises-exception",),
)
MUSIC = (
    '"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]',
    "z4 | z4 | z4 | z4 |]",
    "F4 |]",
    'F4 | "^rit."G4 |: A4 | "Fx?"B4 :|',
    '"F"F G A c |1 F4 :|2 G4 |]',
    "(3FGA F2 | {c}F4 |]",
    "P:A\nF4 | G4 |\nP:B 2\nA4 | F4 |]",
    "F4 | G3 |]",
    "F,,4 | c'''4 |]",
)
LYRICS = ("", "w: la la-la ~ la", "w: a\\_b c * d", "w: \u00e9t\u00e9 🎷", "w: x_ _ y")
TOP = (
    "",
    "",
    "",
    'language = "de-AT"',
    'language = "german"',
    'address = "https://example.org/a?b#c"',
    'address = "a page"',
    'summary = "Sax 🎷"',
    'summary = "bell\\u0007"',
    'soundfont = "none.sf2"',
)
TABLES = (
    "",
    "",
    "",
    '[audio]\ncover = "none.png"',
    "[audio]\nloops = true\nmixes = ['backing']",
    '[recording]\ntalk = [{ say = "🎷", seconds = 2 }]',
    "[tiers]\nfree_levels = []",
    '[[instrument]]\nslug = "toy"\nname = "Toy"\nwritten = "M2"\nrange = ["C3", "C6"]',
)
NAMES = ("lamp", "con", "a lamp", "été", "stop.", "b:c")
ROUTES = ("", 'route = [{ play = "head" }, { play = "solo" }, { play = "head" }]')


class Here:
    """Workers of one: each call at once, in this process."""

    breakdowns = (BrokenPipeError,)
    count = 1

    def prepare(self) -> None:
        return

    def submit(self, call: Any, /, *args: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(call(*args))
        except Exception as error:  # noqa: BLE001 - as a pool does
            future.set_exception(error)
        return future


class Silent:
    def start(self, *_: Any) -> None:
        return

    def step(self, *_: Any) -> None:
        return


def draw(rng: random.Random, pieces: Any, share: float) -> Any:
    """Take the first piece, the plainest, or with some probability any of them."""
    return rng.choice(pieces) if rng.random() < share else pieces[0]


def quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def write_lesson(place, rng: random.Random):
    folder = place / draw(rng, NAMES, 0.15)
    folder.mkdir(parents=True)
    instruments = ["tenor-sax"]
    tables = draw(rng, TABLES, 0.4)
    if "toy" in tables:
        instruments.append("toy")
    settings = [
        f"title = {quoted(draw(rng, WORDS, 0.3))}",
        f"composer = {quoted(draw(rng, WORDS, 0.3))}",
        draw(rng, TOP, 0.4),
        f"instruments = {json.dumps(instruments)}",
        '[rights]\nbasis = "own work"',
        tables,
        '[[levels]]\nname = "plain"\ntempo = 300\nfeel = "straight-eighths"',
        f"title = {quoted(draw(rng, WORDS, 0.2))}",
        draw(rng, ROUTES, 0.3),
    ]
    (folder / "lesson.toml").write_text("\n".join(settings), "utf-8")
    music = f"{draw(rng, MUSIC, 0.6)}\n{draw(rng, LYRICS, 0.5)}\n"
    (folder / "tune.abc").write_text(f"X:1\nT:Lamp\nM:4/4\nL:1/4\nK:F\n{music}", "utf-8")
    cells = [{"cell_type": "code", "source": "import kit\nlesson = kit.open_lesson()"}]
    cells += [
        {"cell_type": kind, "source": rng.choice(pieces)}
        for kind, pieces in (("markdown", PROSE), ("code", CODE))
        for _ in range(rng.randint(0, 2))
    ]
    for number, cell in enumerate(cells):
        tags = draw(rng, TAGS, 0.4) if number else ()
        cell |= {"id": f"c{number}", "metadata": {"tags": list(tags)}}
        if cell["cell_type"] == "code":
            cell |= {"outputs": [], "execution_count": None}
    notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    (folder / "lesson.ipynb").write_text(json.dumps(notebook), "utf-8")
    return folder


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Lessons put together at random, each with the errors that check tells."""
    place, rng = tmp_path_factory.mktemp("drawn"), random.Random(SEED)
    folders = [write_lesson(place / str(number), rng) for number in range(DRAWN)]
    errors = [[f for f in check_lesson(one) if f.severity == "error"] for one in folders]
    return list(zip(folders, errors, strict=True))


def test_every_refusal_of_check_names_a_file_of_the_lesson(drawn):
    told = [(folder, error) for folder, errors in drawn for error in errors]
    assert len(told) > DRAWN / 2
    for folder, error in told:
        assert error.file
        assert error.file.startswith(f"{folder.name}/")
        assert len(str(error)) <= 500


def test_what_check_passes_is_built(drawn, tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    clean = [folder for folder, errors in drawn if not errors]
    assert len(clean) >= BUILT
    for number, folder in enumerate(clean[:BUILT]):
        result = build_lesson(
            folder, tmp_path / str(number), progress=Silent(), workers=Here()
        )
        assert (result.folder / "public/index.html").is_file()
