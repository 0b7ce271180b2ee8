"""How long does a search among many lessons take? Run it: it prints milliseconds.

    python tests/benchmarks/catalogue_search.py [--lessons 10 500 2000]

The page is the real one, with lessons that are made up as richly as real ones: three
levels, twelve instruments. Twenty searches are typed letter by letter with the browser's
keyboard. Each letter is timed from the input event's own time stamp until the frame that
shows what was found has been drawn: the browser's wait for the next frame (up to 17 ms) is
in it. So are the filters, each chosen once. *Work* is the part of it until the page is laid
out. Writing is told in seconds of processor, so that other work slows it less. The baseline
is the same page with ten lessons, in the same browser.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from statistics import median

from playwright.sync_api import Browser, Page, sync_playwright

from kit.publish.catalogue._entries import Entry, EntryLevel, Player
from kit.publish.catalogue.site import catalogue_html, write_catalogue

COUNTS = (10, 500, 2000)
QUERIES = (
    "reel", "the", "hornpipe", "major", "minor", "eb major", "aabb", "waltz", "a", "e",
    "straight eighths", "jig", "lady", "farewell to", "zzz", "swing", "c", "march aabb",
    "ryan", "blues in c minor",
)  # fmt: skip
FILTERS = (
    ("level", "advanced"), ("instrument", "flute"), ("key", "G major"), ("form", "AABB"),
    ("feel", "six-eight"),
)  # fmt: skip
WATCH = """() => {
    window.seen = [];
    const watch = (event) => {
        const done = new MessageChannel();
        const from = event.timeStamp;
        const seen = { work: 0, shown: 0 };
        // Heard after the page's own listener, which sits further in.
        document.body.getBoundingClientRect();
        seen.work = performance.now() - from;
        done.port1.onmessage = () => {
            seen.shown = performance.now() - from;
            window.seen.push(seen);
        };
        requestAnimationFrame(() => done.port2.postMessage(0));
    };
    window.addEventListener("input", watch);
}"""
NOUNS = ("Reel", "Hornpipe", "Jig", "March", "Waltz", "Strathspey", "Air", "Blues")
WHO = ("The Lady", "Farewell to", "The Miller", "Old Harbour", "Étude", "The Long Road")
KEYS = ("C major", "G major", "D major", "E♭ major", "A minor", "F♯ minor", "B♭ major")
FORMS = ("AABB", "AABA", "ABAC", "ABC", "12-bar blues")
FEELS = ("straight-eighths", "six-eight", "medium-swing", "jazz-waltz")
LEVELS = ("beginner", "intermediate", "advanced")
PLAYERS = tuple(
    Player(slug, slug.replace("-", " ").capitalize(), key)
    for slug, key in (
        ("alto-sax", "A major"), ("tenor-sax", "D major"), ("soprano-sax", "D major"),
        ("baritone-sax", "A major"), ("clarinet", "D major"), ("trumpet", "D major"),
        ("trombone", "C major"), ("flute", "C major"), ("concert", "C major"),
        ("horn", "G major"), ("oboe", "C major"), ("bassoon", "C major"),
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Times:
    """Milliseconds of every letter typed or filter chosen."""

    work: tuple[float, ...]
    shown: tuple[float, ...]

    def __str__(self) -> str:
        """Give the figures in a line."""
        return f"until drawn: {spread(self.shown)}; work: {spread(self.work)}"


def spread(times_ms: Sequence[float]) -> str:
    """Give median, 95th percentile and worst, in words."""
    ordered = sorted(times_ms)
    high = ordered[min(len(ordered) - 1, int(0.95 * len(ordered)))]
    return (
        f"median {median(ordered):.1f} ms, 95 % under {high:.1f} ms, "
        f"worst {ordered[-1]:.1f} ms"
    )


def lesson(number: int) -> Entry:
    """Make up a lesson."""
    levels = tuple(
        EntryLevel(
            name, name.capitalize(), "", free=not place, feel=FEELS[number % 4], bars=32,
            tempo=80.0 + number % 9 + 20 * place, seconds=64.0, difficulty=2.5 + 2 * place,
        )
        for place, name in enumerate(LEVELS)
    )  # fmt: skip
    return Entry(
        slug=f"tune-{number}",
        title=f"{WHO[number % 6]} {number}, {NOUNS[number % 8]}", composer="Nobody",
        school="School", language="en",
        summary="A summary as long as they usually are, two lines or so of plain words.",
        address="", key=KEYS[number % 7], meter="4/4", form=FORMS[number % 5],
        form_name=FORMS[number % 5], instruments=PLAYERS, levels=levels,
        course=f"Path {number % 4}" if number % 5 else "", order=number,
        published=date(2017, 1, 6) + timedelta(weeks=number),
    )  # fmt: skip


def write_manifests(root: Path, count: int) -> None:
    """Write manifests of made-up lessons, with as many files in them as real ones have."""
    for number in range(count):
        one = lesson(number)
        told = {
            name: getattr(one, name)
            for name in ("title", "composer", "school", "language", "summary", "address")
        }
        files = [
            {
                "path": f"handouts/{level.name}-{horn.slug}-{copy}.pdf", "kind": "handout",
                "level": level.name, "instrument": horn.slug, "tier": "members",
                "sha256": f"{number:064x}", "bytes": 54321,
            }
            for level in one.levels for horn in one.instruments for copy in range(2)
        ]  # fmt: skip
        data = told | {
            "lesson": one.slug, "concert_key": "Eb major", "form": one.form,
            "form_name": one.form_name, "meter": one.meter,
            "instruments": [
                {"slug": horn.slug, "name": horn.name, "key": horn.key}
                for horn in one.instruments
            ],
            "catalogue": {
                "course": one.course, "order": one.order,
                "published": str(one.published),
            },
            "levels": [
                {name: getattr(level, name) for name in EntryLevel.__slots__}
                | {"count_in_seconds": 2.0}
                for level in one.levels
            ],
            "kit_version": "1", "built_from": "x", "files": files,
        }  # fmt: skip
        path = root / one.slug / "manifest.json"
        path.parent.mkdir(parents=True)
        path.write_text(json.dumps(data, indent=1), encoding="utf-8")


@contextmanager
def chromium() -> Iterator[Browser]:
    """Give a browser: the one that KIT_CHROMIUM names, or an installed one."""
    program = os.environ.get("KIT_CHROMIUM") or shutil.which("chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"]
        )
        try:
            yield browser
        finally:
            browser.close()


def searched(page: Page, address: str, *, queries: Sequence[str] = QUERIES) -> Times:
    """Type the searches on a catalogue page, then choose each filter once.

    Parameters
    ----------
    page : Page
        Of a browser.
    address : str
        Of the catalogue.
    queries : sequence of str
        What is typed, each from an empty field on.
    """
    page.goto(address)
    page.evaluate(WATCH)
    count = 0

    def wait() -> None:
        nonlocal count
        count += 1
        page.wait_for_function("(n) => window.seen.length >= n", arg=count)

    field = page.locator("#words")
    for query in queries:
        field.focus()
        for letter in query:
            page.keyboard.type(letter)
            wait()
        page.keyboard.press("ControlOrMeta+A")
        page.keyboard.press("Delete")
        wait()
    for name, value in FILTERS:
        offered = page.locator(f"#{name} option").evaluate_all(
            "all => all.map(o => o.value)"
        )
        for choice in (value if value in offered else offered[-1], ""):
            page.select_option(f"#{name}", choice)
            wait()
    seen = page.evaluate("window.seen")
    return Times(tuple(one["work"] for one in seen), tuple(one["shown"] for one in seen))


def loaded_ms(page: Page, address: str) -> float:
    """Time a page until its program has run."""
    page.goto(address)
    return float(page.evaluate("performance.getEntriesByType('navigation')[0].domComplete"))


def write_seconds(root: Path) -> tuple[float, float]:
    """Give seconds of processor to write a catalogue anew, and again unchanged."""
    times = []
    for _ in range(2):
        start = time.process_time()
        write_catalogue(root)
        times.append(time.process_time() - start)
    return times[0], times[1]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lessons", type=int, nargs="+", default=COUNTS)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, chromium() as browser:
        catalogue_html([lesson(0)], link="{}", has_feed=False)  # the template is read once
        for count in options.lessons:
            root = Path(folder) / str(count)
            write_manifests(root, count)
            first_s, again_s = write_seconds(root)
            index = root / "index.html"
            page = browser.new_page(viewport={"width": 1280, "height": 900})
            load_ms = loaded_ms(page, index.as_uri())
            times = searched(page, index.as_uri())
            page.close()
            print(
                f"{count} lessons: written in {first_s:.2f} s of processor, again in "
                f"{again_s:.2f} s; "
                f"{index.stat().st_size / 1e6:.2f} MB, loaded in {load_ms:.0f} ms"
            )
            print(f"  {len(times.shown)} searches, {times}", flush=True)


if __name__ == "__main__":
    main()
