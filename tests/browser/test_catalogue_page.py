"""The catalogue in a real Chromium: filters, speed, access; captions as a track."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from axe_playwright_python.sync_playwright import Axe

from kit.lesson.lesson import open_lesson
from kit.publish.catalogue._entries import Entry, EntryLevel, Player
from kit.publish.catalogue.site import catalogue_html
from kit.publish.recording.captions import captions_vtt
from kit.route.timing import chapters_vtt, timing_map

pytestmark = pytest.mark.browser

KEYS = ("C major", "G minor", "E♭ major", "F major", "A minor")
FORMS = ("AABA", "AABB", "ABAC", "12-bar blues")
FEELS = ("medium-swing", "straight-eighths", "two-beat")
MANY = 500


def level(name: str, tempo: float, feel: str, difficulty: float) -> EntryLevel:
    return EntryLevel(
        name, name.capitalize(), f"The {name} version.", free=True, tempo=tempo, feel=feel,
        bars=32, seconds=64.0, difficulty=difficulty,
    )  # fmt: skip


def made(number: int) -> Entry:
    """Give one of many lessons, all different and always the same."""
    slow = 80.0 + number % 7 * 10
    return Entry(
        slug=f"lesson-{number}",
        title=f"Étude {number} & <more>",
        composer="Nobody",
        school="Quay Street",
        language="en",
        summary=f"Number {number} of many, with a summary as long as they usually are.",
        address="",
        key=KEYS[number % 5],
        form=FORMS[number % 4],
        form_name=FORMS[number % 4],
        meter="4/4",
        instruments=(Player("alto-sax", "Alto saxophone", "A minor"),)
        + ((Player("flute", "Flute", "C minor"),) if number % 2 else ()),
        levels=(
            level("easy", slow, FEELS[number % 3], 2.0),
            level("hard", slow + 80, "medium-swing", 7.5),
        ),
        course="The path" if number % 10 == 0 else "",
        order=number,
        published=date(2026, 1, 1),
    )


@pytest.fixture(scope="module")
def address(tmp_path_factory) -> str:
    entries = [made(number) for number in range(MANY)]
    path = tmp_path_factory.mktemp("catalogue") / "index.html"
    html = catalogue_html(entries, link="{}/index.html", has_feed=True)
    path.write_text(html, encoding="utf-8")
    return path.as_uri()


@pytest.fixture
def catalogue(page, address):
    """The page, opened; any error in its console fails the test."""
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda m: errors.append(m.text) if m.type == "error" else None)
    page.goto(address)
    yield page
    assert errors == []


def shown(page) -> int:
    return page.locator(".entry:not([hidden])").filter(visible=True).count()


def test_everything_is_shown_at_first(catalogue):
    assert shown(catalogue) == MANY
    assert catalogue.locator(".count").text_content() == "500 lessons"


def test_without_script_all_lessons_can_be_read(browser, address):
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(address)
    assert page.locator(".entry").filter(visible=True).count() == MANY
    assert not page.locator(".search").is_visible()
    context.close()


@pytest.mark.parametrize(
    ("field", "value", "fits"),
    [
        ("instrument", "flute", lambda n: n % 2),
        ("key", "E♭ major", lambda n: n % 5 == 2),
        ("form", "ABAC", lambda n: n % 4 == 2),
        ("level", "hard", lambda n: True),
    ],
)
def test_a_filter_keeps_what_fits(catalogue, field, value, fits):
    catalogue.select_option(f"#{field}", value)
    expected = sum(bool(fits(number)) for number in range(MANY))
    assert shown(catalogue) == expected
    count = catalogue.locator(".count").text_content()
    assert count == (f"{expected} of 500 lessons" if expected < MANY else "500 lessons")


def test_level_feel_tempo_and_difficulty_are_of_one_level(catalogue):
    catalogue.select_option("#level", "easy")
    catalogue.select_option("#feel", "two-beat")
    catalogue.fill("#slowest", "100")
    catalogue.fill("#fastest", "120")
    expected = sum(n % 3 == 2 and 100 <= 80 + n % 7 * 10 <= 120 for n in range(MANY))
    assert 0 < shown(catalogue) == expected
    catalogue.fill("#slowest", "170")  # only the hard levels go as fast
    catalogue.fill("#fastest", "")
    assert shown(catalogue) == 0
    assert catalogue.locator(".nothing").is_visible()
    catalogue.click("text=Show all")
    catalogue.wait_for_function(
        "document.querySelector('.count').textContent === '500 lessons'"
    )


def test_the_list_of_paths_shows_where_something_was_found(catalogue):
    ways = catalogue.locator(".ways a").filter(visible=True)
    assert ways.all_text_contents() == ["The path", "More lessons"]
    ways.last.click()
    top = catalogue.locator("#others").evaluate("e => e.getBoundingClientRect().top")
    assert 0 <= top < 200
    catalogue.fill("#words", "etude 120")  # on the path, at its thirteenth place
    assert ways.count() == 0
    entry = catalogue.locator(".entry:not([hidden])").first
    number = entry.evaluate("e => getComputedStyle(e, '::before').content")
    assert number == '"13"'


def test_search_finds_all_words_without_accents_and_flats_as_typed(catalogue):
    catalogue.fill("#words", "etude 123")
    assert shown(catalogue) == 1
    catalogue.fill("#words", "eb major aaba")
    assert shown(catalogue) == sum(n % 5 == 2 and n % 4 == 0 for n in range(MANY))


def test_the_chosen_instruments_key_is_told_and_remembered(catalogue, address):
    catalogue.select_option("#instrument", "flute")
    first = catalogue.locator(".entry:not([hidden]) .your-key").first
    assert first.text_content() == ". For you in C minor"
    catalogue.goto(address)
    assert catalogue.input_value("#instrument") == "flute"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_it_is_accessible_and_never_wider_than_the_screen(browser, tmp_path, scheme, width):
    entries = [made(number) for number in range(12)]
    entries[3] = replace(entries[3], locked=("Hard",))
    path = tmp_path / "index.html"
    html = catalogue_html(entries, link="{}/index.html", has_feed=True)
    path.write_text(html, encoding="utf-8")
    context = browser.new_context(
        viewport={"width": width, "height": 800}, color_scheme=scheme
    )
    page = context.new_page()
    page.goto(path.as_uri())
    page.select_option("#level", "easy")
    found = Axe().run(page).response["violations"]
    assert [(rule["id"], rule["nodes"][0]["html"]) for rule in found] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    small = page.evaluate(
        """() => [...document.querySelectorAll("select, button, input, h3 a")]
            .map((e) => [e.outerHTML.slice(0, 60), e.getBoundingClientRect()])
            .filter(([, box]) => box.height < 24 || box.width < 24)"""
    )
    assert small == [], "targets of at least 24 by 24 pixels (WCAG 2.2, 2.5.8)"
    context.close()


def test_the_keyboard_reaches_form_and_lessons(catalogue):
    catalogue.keyboard.press("Tab")
    assert catalogue.evaluate("document.activeElement.className") == "skip"
    catalogue.keyboard.press("Tab")
    assert catalogue.evaluate("document.activeElement.id") == "words"
    catalogue.keyboard.type("étude 123")
    assert shown(catalogue) == 1
    for _ in range(10):
        catalogue.keyboard.press("Tab")
    assert catalogue.evaluate("document.activeElement.getAttribute('href')") == (
        "lesson-123/index.html"
    )


TUNE = """X:1
T:Small
M:4/4
L:1/4
K:F
P:A
"F"F G A c | "C7"B G E2 |
P:B
"F"F A c A | "F"F4 |]
"""


@pytest.mark.parametrize("write", ["chapters", "captions"])
def test_chromiums_track_element_reads_the_cues(page, tmp_path, write):
    folder = tmp_path / "small"
    folder.mkdir()
    (folder / "tune.abc").write_text(TUNE)
    (folder / "lesson.toml").write_text(
        'title = "Small"\n[[levels]]\nname = "a"\ntempo = 100\nfeel = "straight-eighths"\n'
    )
    music = open_lesson(folder).level("a")
    route, tempo = music.route, music.tempo_qpm
    text = captions_vtt(music) if write == "captions" else chapters_vtt(route, tempo)
    html = f'<video><track kind="{write}" src="/a.vtt"></video>'

    def serve(request) -> None:
        is_track = request.request.url.endswith(".vtt")
        kind = "text/vtt" if is_track else "text/html"
        request.fulfill(body=text if is_track else html, content_type=kind)

    page.route("http://kit.test/**", serve)
    page.goto("http://kit.test/")
    cues = page.evaluate(
        """() => new Promise((resolve) => {
            const element = document.querySelector("track");
            const list = () => resolve(
                [...element.track.cues].map((c) => [c.startTime, c.endTime, c.text]));
            element.addEventListener("load", list);
            element.addEventListener("error", () => resolve("refused"));
            setTimeout(() => resolve("never loaded"), 10000);
            element.track.mode = "hidden";
            if (element.readyState === HTMLTrackElement.LOADED) list();
        })"""
    )
    bars = timing_map(route, tempo)["bars"]
    wanted = [bar["start"] for bar in bars]
    if write == "chapters":
        wanted = [bars[0]["start"], bars[2]["start"]]
    assert cues[0] == [0, pytest.approx(wanted[0], abs=0.001), "Count-in"]
    assert [cue[0] for cue in cues[1:]] == pytest.approx(wanted, abs=0.001)
    assert cues[-1][1] == pytest.approx(bars[-1]["end"], abs=0.001)
