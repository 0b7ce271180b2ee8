"""The teacher's first twenty minutes in a real JupyterLab, from a file to the built page.

Start page, new lesson from an uploaded file, its notebook opened from the list and run,
the build with its progress, and the page opened. The kernel opens pages with the program
that ``BROWSER`` names; here it writes the address down.
"""

from __future__ import annotations

import os
import re
import shutil
import socket
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from waiting import PATIENCE_S, is_idle, run_all_cells, until

pytestmark = pytest.mark.browser

ROOT = Path(__file__).resolve().parents[2]
TUNE = """X:1
T:Harbour Steps
C:The Test
M:4/4
L:1/4
Q:1/4=200
K:Bb
P:A
"Bb"B, D F B | "Cm7"E G B G | "F7"A c A F | "Bb"B4 |
P:B
"Eb"G B e d | "Bb"d B F D | "F7"C E A c | "Bb"B4 |]
"""


@pytest.fixture(scope="module")
def school_room(tmp_path_factory) -> Path:
    """A project folder with one lesson, a tune on the side, and a browser that listens."""
    place = tmp_path_factory.mktemp("room")
    shutil.copytree(ROOT / "tests/figures/small-lesson", place / "lessons" / "small-lesson")
    (place / "harbour.abc").write_text(TUNE, encoding="utf-8")
    listener = place / "listener.py"
    listener.write_text(
        "import sys, pathlib\n"
        "pathlib.Path(__file__).with_name('opened.txt').write_text(sys.argv[1])\n",
        encoding="utf-8",
    )
    return place


@pytest.fixture(scope="module")
def room_url(school_room: Path) -> Iterator[str]:
    """Address of what ``kit lab`` serves there."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    path = os.pathsep.join(filter(None, [str(ROOT), os.environ.get("PYTHONPATH", "")]))
    own = {
        name: str(school_room / ".jupyter" / name.lower())
        for name in (
            "JUPYTER_CONFIG_DIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "IPYTHONDIR"
        )
    }  # fmt: skip
    server = subprocess.Popen(
        [
            sys.executable, "-m", "kit", "lab", "--no-browser", "--allow-root",
            "--ip=127.0.0.1", f"--port={port}", "--IdentityProvider.token=",
        ],
        cwd=school_room,
        env={
            **os.environ, **own, "PYTHONPATH": path,
            "KIT_CACHE": str(school_room / "cache"),
            "BROWSER": f"{sys.executable} {school_room / 'listener.py'} %s",
        },
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    url = f"http://127.0.0.1:{port}"

    def answers() -> bool:
        assert server.poll() is None
        try:
            urllib.request.urlopen(f"{url}/api", timeout=2).close()
        except OSError:
            return False
        return True

    try:
        until(answers, why="JupyterLab answers")
        yield url
    finally:
        server.terminate()
        server.wait(PATIENCE_S)


@pytest.fixture(scope="module")
def desk(browser, room_url):
    """The start page, run, in a browser context of its own."""
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    page = context.new_page()
    page.errors = []
    page.on("pageerror", lambda error: page.errors.append(str(error)))
    page.goto(f"{room_url}/?reset")
    run_all_cells(page)
    yield page
    context.close()


def test_it_opens_on_the_list_of_lessons_with_their_state(desk):
    assert desk.url.endswith("/lab/tree/Start%20here.ipynb")
    small = desk.locator(".lk-region-lesson-small-lesson")
    small.wait_for()
    until(lambda: "checking" not in small.inner_text(), why="the check has been made")
    assert "never built" in small.inner_text()
    assert "1 error" in small.inner_text()  # the little lesson has no notebook
    assert desk.locator(".lk-static").first.is_hidden()


def test_a_new_lesson_from_an_uploaded_file_is_shown_then_made(desk, school_room):
    new = desk.locator(".lk-region-new")
    new.locator('input[type="file"]').set_input_files(school_room / "harbour.abc")
    new.get_by_role("button", name="Look at it").click()
    new.get_by_text("Is this your tune?").wait_for()
    assert new.locator('[data-field="title"]').input_value() == "Harbour Steps"
    assert "B♭ major" in new.inner_text()
    assert "AB: A (4 bars), B (4 bars); as marked in the file" in new.inner_text()
    assert new.locator("svg").count() >= 2
    assert not (school_room / "lessons" / "harbour-steps").exists()
    new.get_by_role("button", name="Make the lesson").click()
    new.get_by_text("The lesson is made.").wait_for()
    assert (school_room / "lessons/harbour-steps/lesson.ipynb").is_file()
    assert desk.locator(".lk-region-lesson-harbour-steps").count() == 1


def look_at(desk, file: Path):
    """Name another file in the panel for a new lesson, and give the panel."""
    new = desk.locator(".lk-region-new")
    new.get_by_role("button", name="Another file").click()
    new.locator('[data-field="path"]').fill(str(file))
    desk.keyboard.press("Enter")
    return new


BOOK = """X:2
T:Uneven
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 A | "F"F4 |]

X:5
T:Quay Waltz
M:3/4
L:1/4
K:G
"G"G B d | "D7"A F D | "G"G3 |]
"""


def test_a_tune_of_a_book_is_chosen_and_uneven_bars_are_kept_by_a_tick(desk, school_room):
    (school_room / "book.abc").write_text(BOOK, encoding="utf-8")
    new = look_at(desk, school_room / "book.abc")
    keep = new.get_by_label("Keep uneven bars as they are")
    keep.wait_for()
    assert "bar 2: 5 quarters" in desk.locator(".lk-live > .lk-problem").first.inner_text()
    keep.check()
    new.get_by_text("given the meter they fill: 2.").wait_for()
    assert new.get_by_label("Keep uneven bars as they are").is_checked()
    new.get_by_label("Keep uneven bars as they are").uncheck()
    new.get_by_text("cannot be read as chosen").wait_for()
    new.get_by_label("Tune").select_option("5: Quay Waltz")
    new.get_by_text("Is this your tune?").wait_for()
    assert new.locator('[data-field="title"]').input_value() == "Quay Waltz"
    assert desk.locator(".lk-live > .lk-problem").first.is_hidden()


BARE = """X:1
T:Pier Reel
M:4/4
L:1/8
K:D
d2fd A2FA | d2fd edBc | d2fd A2FA | BAGF E4 |
d2fd A2FA | d2fd edBc | dfed BcdB | AFEF D4 |]
"""


def test_for_a_tune_without_changes_some_are_proposed_by_a_tick(desk, school_room):
    (school_room / "bare.abc").write_text(BARE, encoding="utf-8")
    new = look_at(desk, school_room / "bare.abc")
    box = new.get_by_label("Propose changes; the lesson says that they are proposed")
    box.wait_for()
    assert new.locator("svg .harm").count() == 0
    box.check()
    until(lambda: new.locator("svg .harm").count() > 3, why="changes over the first bars")
    box.uncheck()
    until(lambda: new.locator("svg .harm").count() == 0, why="none again")
    box.check()
    until(lambda: new.locator("svg .harm").count() > 3, why="they are back")
    new.get_by_role("button", name="Make the lesson").click()
    new.get_by_text("The lesson is made.").wait_for()
    settings = (school_room / "lessons/pier-reel/lesson.toml").read_text(encoding="utf-8")
    assert re.search(r'^changes = "proposed"', settings, re.MULTILINE)
    tune = (school_room / "lessons/pier-reel/tune.musicxml").read_text(encoding="utf-8")
    assert tune.count("<harmony") > 3


def test_a_file_that_is_no_notation_is_one_sentence(desk, school_room):
    (school_room / "letter.abc").write_text("Dear all,", encoding="utf-8")
    look_at(desk, school_room / "letter.abc")
    problem = desk.locator(".lk-live > .lk-problem").first
    until(lambda: "letter.abc" in problem.inner_text(), why="the sentence")


def test_it_is_built_with_progress_and_its_page_opens(desk, school_room, browser):
    row = desk.locator(".lk-region-lesson-harbour-steps")
    row.get_by_role("button", name="Build Harbour Steps").click()
    row.locator("progress").wait_for()
    until(
        lambda: is_idle(desk) and "Built " not in row.inner_text(),
        why="the kernel is free meanwhile",
    )
    until(lambda: "Built " in row.inner_text(), why="it is built")
    assert row.locator(".lk-state-current").count() == 1
    row.get_by_text("Results").click()
    row.get_by_role("button", name="Members’ page").click()
    opened = school_room / "opened.txt"
    until(opened.exists, why="the page is opened")
    address = opened.read_text()
    assert address.startswith("file://")
    context = browser.new_context()
    seen = context.new_page()
    seen.goto(address)
    assert seen.locator("h1").inner_text() == "Harbour Steps"
    assert seen.locator("svg .note").count() > 10
    context.close()


def test_open_opens_the_lessons_notebook_in_jupyterlab(desk):
    row = desk.locator(".lk-region-lesson-harbour-steps")
    row.get_by_role("link", name="Open Harbour Steps").click()
    desk.wait_for_url("**/lab/tree/harbour-steps/lesson.ipynb")
    run_all_cells(desk)
    front = desk.locator(".jp-NotebookPanel:not(.lm-mod-hidden)")
    front.locator(".lk-live .lk-figure svg").first.wait_for()
    assert front.locator("[data-mime-type*=error]").count() == 0
    assert desk.errors == []


def test_axe_finds_nothing_to_complain_of_in_list_and_draft(browser, room_url, school_room):
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    page = context.new_page()
    page.goto(f"{room_url}/lab/tree/Start%20here.ipynb?reset")
    run_all_cells(page)
    page.wait_for_timeout(2000)  # a saved view may have to make way for the new one
    new = page.locator(".lk-region-new")
    new.locator('[data-field="path"]').fill(str(school_room / "harbour.abc"))
    page.keyboard.press("Enter")
    new.get_by_text("Is this your tune?").wait_for()
    found = Axe().run(
        page,
        context={"include": [[".lk-panel"]]},
        options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]},
    )
    assert found.violations_count == 0, found.generate_report()
    context.close()
