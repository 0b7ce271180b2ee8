"""Every link of a lesson with a wild name opens: in Chromium, from disk and served."""

from __future__ import annotations

import functools
import http.server
import json
import os
import shutil
import subprocess
import sys
import threading
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

import pytest

from kit.publish.catalogue.site import write_catalogue

pytestmark = pytest.mark.browser

NAME = "50% off #1 yes & no; é 'x' +%20"
"""What a folder may be called everywhere."""
WILD = '50% off #1? yes & "no"; \\ a:b <i>|*'
"""What it may be called only where a file system has room for these signs."""
NAMES = (NAME,) if sys.platform == "win32" else (NAME, WILD)

TUNE = """X:1
T:Wild
M:4/4
L:1/4
K:F
"F"F G A c | "C7"B G E2 | "F"F A c A | "F"F4 |]
"""

SETTINGS = """
title = "Wild & <b>Free</b>"
instruments = ["tenor-sax"]
address = "https://quay.example/my tunes/50%/é#start"
[rights]
basis = "own work"
[tiers]
free_kinds = ["handout", "audio"]
[catalogue]
course = "100% #1 & \\"more\\"?"
order = 1
published = 2026-01-02
[audio]
tempos = [80]
[[levels]]
name = "plain"
tempo = 200
feel = "straight-eighths"
count_in_bars = 1
"""

NOTEBOOK = {
    "cells": [{"cell_type": "markdown", "id": "a", "metadata": {},
               "source": "# Wild\n\n[Out](<https://quay.example/a b/50%?c=1&d=ü#e%41>)"}],
    "metadata": {}, "nbformat": 4, "nbformat_minor": 5,
}  # fmt: skip
PAGES = ("index.html", "public/index.html")


@pytest.fixture(scope="module")
def out(tmp_path_factory) -> Path:
    """The lesson, built by the command; beside it the same under the wilder name."""
    place = tmp_path_factory.mktemp("wild")
    folder = place / "lessons" / NAME
    folder.mkdir(parents=True)
    (folder / "tune.abc").write_text(TUNE)
    (folder / "lesson.toml").write_text(SETTINGS, encoding="utf-8")
    (folder / "lesson.ipynb").write_text(json.dumps(NOTEBOOK), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "kit", "build"],
        cwd=place, capture_output=True, text=True, check=False, timeout=240,
        env=os.environ | {"KIT_CACHE": str(tmp_path_factory.mktemp("cache"))},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    if WILD in NAMES:
        shutil.copytree(place / "build" / NAME, place / "build" / WILD)
        write_catalogue(place / "build")
    return place / "build"


@pytest.fixture(scope="module")
def site(out, tmp_path_factory) -> Path:
    """A public site, put together as the guide says."""
    site = tmp_path_factory.mktemp("site")
    zipfile.ZipFile(out / "free-site.zip").extractall(site)
    for name in NAMES:
        zipfile.ZipFile(out / name / "free.zip").extractall(site / name)
    return site


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture
def served(request) -> Iterator[str]:
    folder = request.getfixturevalue(request.param)
    handler = functools.partial(_Quiet, directory=folder)
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def links(page) -> list[str]:
    """Give where the page's links lead, as the browser understands them."""
    page.wait_for_function("document.documentElement.classList.contains('scripted')")
    return page.evaluate("[...document.querySelectorAll('a[href]')].map((a) => a.href)")


def inner(addresses, start: str) -> list[str]:
    return [address for address in addresses if address.startswith(start)]


def file_of(address: str) -> Path:
    return Path(url2pathname(urlsplit(address).path))


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("first", PAGES)
def test_from_disk_each_link_leads_to_a_file(page, out, first, name):
    page.goto((out / first).as_uri())
    page.locator(".entry-title a").nth(sorted(NAMES).index(name)).click()
    page.wait_for_selector("#downloads", state="attached")
    assert page.locator("h1").text_content() == "Wild & <b>Free</b>"
    assert file_of(page.url).resolve() == (out / name / first).resolve()
    found = inner(links(page), "file:")
    assert len(found) >= 6
    for address in found:
        assert file_of(address).is_file(), address


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("first", PAGES)
def test_from_disk_the_page_plays_a_sound_that_lies_beside_it(page, out, first, name):
    page.goto((out / name / first).as_uri())
    page.wait_for_function("document.documentElement.dataset.drawn !== undefined")
    seconds = page.evaluate(
        """() => new Promise((resolve, reject) => {
            const links = [...document.querySelectorAll(".downloads a")];
            const sound = new Audio(links.find((a) => a.href.endsWith("-80.mp3")).href);
            sound.addEventListener("loadedmetadata", () => resolve(sound.duration));
            sound.addEventListener("error", () => reject(new Error(sound.src)));
        })"""
    )
    assert seconds > 6


@pytest.mark.parametrize("served", ["out", "site"], indirect=True)
def test_served_each_link_is_answered(page, served):
    answered = 0
    for first in PAGES:
        if page.goto(f"{served}/{first}").status == 404:
            continue  # a public site has one page
        lessons = inner(links(page), f"{served}/")
        for lesson in [address for address in lessons if address.endswith("/index.html")]:
            assert page.goto(lesson).status == 200, lesson
            for address in dict.fromkeys([*lessons, *inner(links(page), served)]):
                status = page.evaluate("(a) => fetch(a).then((r) => r.status)", address)
                assert status == 200, address
                answered += 1
    assert answered >= 8 * len(NAMES)


@pytest.mark.parametrize("served", ["out", "site"], indirect=True)
def test_the_feeds_links_open(page, served):
    page.goto(f"{served}/index.html")
    feed = ET.fromstring(page.evaluate("fetch('feed.xml').then((r) => r.text())"))
    entries = feed.findall("{*}entry")
    assert len(entries) == len(NAMES)
    for entry in entries:
        assert entry.findtext("{*}title") == "Wild & <b>Free</b>"
        href = entry.find("{*}link").get("href")
        assert page.goto(f"{served}/{href}").status == 200
        assert page.locator("h1").text_content() == "Wild & <b>Free</b>"


def test_links_to_elsewhere_are_encoded_and_stay_what_they_are(page, out):
    page.goto((out / NAME / "index.html").as_uri())
    (away,) = inner(links(page), "https:")
    assert away == "https://quay.example/a%20b/50%25?c=1&d=%C3%BC#e%41"


def test_a_course_of_any_name_is_shown_as_it_is(page, out):
    page.goto((out / "index.html").as_uri())
    assert page.locator("#path-1").text_content() == '100% #1 & "more"?'


def test_the_handouts_link_is_the_encoded_address(out):
    import pypdf

    path = out / NAME / "handouts/plain-tenor-sax.pdf"
    notes = pypdf.PdfReader(path).pages[0]["/Annots"]
    found = [note.get_object()["/A"]["/URI"] for note in notes]
    assert "https://quay.example/my%20tunes/50%25/%C3%A9#start" in found
