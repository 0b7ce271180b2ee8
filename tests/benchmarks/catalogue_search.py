"""How long does a search among many lessons take? Run it: it prints milliseconds.

The page is the real one, with lessons that are made up; each search is timed from the
keystroke until what is shown has been laid out. The baseline is the same page with ten
lessons, in the same browser.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from statistics import median

from playwright.sync_api import Page, sync_playwright

from kit.publish.catalogue import catalogue_html
from kit.publish.catalogue_entries import Entry, EntryLevel, Player

COUNTS = (10, 500)
WORDS = ("swing", "tune 4", "blues nobody", "zzz", "c major", "")
ROUNDS = 5
TIMED = """(words) => words.map((word) => {
    const field = document.querySelector("#words");
    field.value = word;
    const start = performance.now();
    field.dispatchEvent(new Event("input", { bubbles: true }));
    document.body.getBoundingClientRect();
    return performance.now() - start;
})"""


def lesson(number: int) -> Entry:
    """Make up a lesson."""
    level = EntryLevel(
        "easy", "Easy", "", free=True, tempo=80.0 + number % 9, feel="medium-swing",
        bars=32, seconds=64.0, difficulty=3.0,
    )  # fmt: skip
    return Entry(
        slug=f"tune-{number}", title=f"Tune {number}", composer="Nobody", school="School",
        language="en", summary="A summary as long as they usually are, two lines or so.",
        address="", key=("C major", "G minor")[number % 2], meter="4/4",
        form=("AABA", "12-bar blues")[number % 2], form_name="a form",
        instruments=(Player("flute", "Flute", "C major"),), levels=(level,),
    )  # fmt: skip


def timed(page: Page, folder: Path, count: int) -> list[float]:
    """Time all searches on a page of so many lessons, several times over."""
    path = folder / f"{count}.html"
    entries = [lesson(number) for number in range(count)]
    html = catalogue_html(entries, link="{}/index.html", has_feed=False)
    path.write_text(html, encoding="utf-8")
    page.goto(path.as_uri())
    return [ms for _ in range(ROUNDS) for ms in page.evaluate(TIMED, list(WORDS))]


def main() -> None:
    """Print the figures."""
    program = os.environ.get("KIT_CHROMIUM") or shutil.which("chromium")
    with sync_playwright() as playwright, tempfile.TemporaryDirectory() as folder:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page()
        for count in COUNTS:
            found = timed(page, Path(folder), count)
            print(
                f"{count} lessons: median {median(found):.1f} ms, worst {max(found):.1f} ms"
            )
        browser.close()


if __name__ == "__main__":
    main()
