"""How soon does a built page show its first notation, and what does it weigh?

    python tests/benchmarks/page_paint.py build/lamplighters-detour

Opens both pages from disk in Chromium, each in a fresh profile, five times. "First paint"
is the browser's own first-contentful-paint, counted from the start of the navigation, with
the first drawing of notation already in the document; "ready" is when the script has drawn
everything. The baseline is an empty page opened in the same run.
"""

from __future__ import annotations

import os
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

TIMES = 5
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
EMPTY = "<!DOCTYPE html><html lang=en><title>empty</title><p>Nothing.</p></html>"


def measure(browser, page: Path, *, scripted: bool) -> tuple[float, float]:
    """Give first paint and readiness in milliseconds."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    tab = context.new_page()
    tab.goto(page.as_uri())
    if scripted:
        tab.wait_for_function("document.documentElement.dataset.drawn !== undefined")
    ready = tab.evaluate("performance.now()")
    tab.wait_for_function("performance.getEntriesByName('first-contentful-paint').length")
    paint = tab.evaluate(
        "performance.getEntriesByName('first-contentful-paint')[0].startTime"
    )
    if scripted:
        assert tab.is_visible(".sheet .wide svg")
    context.close()
    return paint, ready


def main(folder: Path) -> None:
    """Print a line for each page."""
    chromium = os.environ.get("KIT_CHROMIUM") or next(
        filter(None, map(shutil.which, NAMES))
    )
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        empty = Path(place) / "empty.html"
        empty.write_text(EMPTY, encoding="utf-8")
        browser = playwright.chromium.launch(
            executable_path=chromium, args=["--no-sandbox", "--disable-gpu"]
        )
        for name, page, scripted in (
            ("empty page", empty, False),
            ("members", folder / "index.html", True),
            ("public", folder / "public/index.html", True),
        ):
            found = [measure(browser, page, scripted=scripted) for _ in range(TIMES)]
            paint, ready = (
                statistics.median(column) for column in zip(*found, strict=True)
            )
            size = page.stat().st_size / 1e6
            times = f"first paint {paint:.0f} ms, ready {ready:.0f} ms"
            print(f"{name:12} {size:6.2f} MB, {times}")
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
