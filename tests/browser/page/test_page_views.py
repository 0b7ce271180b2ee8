"""Every view of the page: accessible, within the screen, legible, and quick.

Sources: axe-core 4 as bundled with axe-playwright-python; WCAG 2.2 success criteria 2.4.11
(focus not obscured) and 2.5.8 (targets of 24 by 24 CSS pixels, links in sentences apart).
"""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

AXE_RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def panel_view(page) -> None:
    page.click("#more")
    page.select_option("#loop", "bars")
    page.fill("#to", "99")
    page.press("#to", "Tab")


def stand_view(page) -> None:
    page.click("#stand")


def hard_view(page) -> None:
    page.check('.levels input[value="hard"]', force=True)
    page.wait_for_function("document.documentElement.dataset.drawn === 'hard/alto-sax'")
    page.evaluate("document.querySelectorAll('details').forEach((d) => (d.open = true))")


VIEWS = {
    "plain": lambda page: None,
    "panel": panel_view,
    "stand": stand_view,
    "hard": hard_view,
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize(
    ("audience", "view"), [*(("members", view) for view in VIEWS), ("public", "panel")]
)
def test_axe_finds_nothing_to_complain_of(opened, audience, width, scheme, view):
    from axe_playwright_python.sync_playwright import Axe

    page = opened(
        audience=audience, viewport={"width": width, "height": 800}, color_scheme=scheme
    )
    VIEWS[view](page)
    found = Axe().run(page, options={"runOnly": AXE_RULES})
    assert found.violations_count == 0, found.generate_report()


@pytest.mark.parametrize("width", [1280, 360])
def test_the_focus_is_never_hidden_by_the_player(opened, width):
    page = opened(viewport={"width": width, "height": 740})
    page.click("#more")
    page.evaluate("document.activeElement.blur(); scrollTo(0, 0)")
    hidden = []
    for _ in range(90):
        page.keyboard.press("Tab")
        state = page.evaluate(
            """async () => {
              const here = document.activeElement;
              if (here === document.body) return null;
              await new Promise((done) => setTimeout(done, 20));
              const box = (here.closest("label") ?? here).getBoundingClientRect();
              const player = document.querySelector(".player");
              const top = player.getBoundingClientRect().top;
              const covered = !player.contains(here) && box.top > top - 4;
              const outline = getComputedStyle(here).outlineStyle;
              const span = here.nextElementSibling;
              const ringed = outline !== "none" ||
                (span && getComputedStyle(span).outlineStyle !== "none");
              return { name: here.outerHTML.slice(0, 80), covered, ringed };
            }"""
        )
        if state is None:
            break
        if state["covered"] or not state["ringed"]:
            hidden.append(state)
    else:
        pytest.fail("the focus never came round")
    assert hidden == []


@pytest.mark.parametrize("width", [1280, 360])
def test_targets_are_large_enough(opened, width):
    page = opened(viewport={"width": width, "height": 740})
    page.click("#more")
    page.select_option("#loop", "bars")
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, select, input, summary, a")]
          .filter((one) => one.getClientRects().length && !one.closest("p, .skip"))
          .map((one) => (one.closest("label") ?? one))
          .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
          .filter(([, box]) => box.width < 24 || box.height < 24)
          .map(([html, box]) => `${html} ${box.width} x ${box.height}`)"""
    )
    assert small == []


def test_reduced_motion_moves_nothing(opened):
    page = opened(reduced_motion="reduce")
    assert page.evaluate(
        """() => [...document.querySelectorAll("*")].every((one) =>
          ["0s", ""].includes(getComputedStyle(one).transitionDuration) &&
          getComputedStyle(one).animationName === "none")"""
    )
    assert (
        page.evaluate("getComputedStyle(document.documentElement).scrollBehavior") == "auto"
    )


def test_the_music_stand_shows_notation_and_player_and_leaves_with_escape(opened):
    page = opened(viewport={"width": 1024, "height": 768})
    before = page.locator(".sheet .wide svg").bounding_box()["width"]
    page.click("#stand")
    assert page.get_attribute("#stand", "aria-pressed") == "true"
    assert page.locator(".sheet .wide svg").bounding_box()["width"] > before
    assert page.is_visible(".player")
    for other in (".facts", ".lesson", ".downloads", ".imprint", ".level-note"):
        assert not page.is_visible(other)
    page.click("#larger")
    assert page.is_visible(".sheet .narrow svg")
    assert not page.is_visible(".sheet .wide svg")
    assert page.locator(".sheet .narrow .bar-light").count() > 8
    page.keyboard.press("Escape")
    assert page.is_visible(".lesson")
    assert page.is_visible(".sheet .wide svg")


def test_the_line_that_sounds_and_the_next_bar_stay_in_view(opened, lesson):
    """The page is turned before its last line is over, not after."""
    page = opened(viewport={"width": 360, "height": 640}, reduced_motion="reduce")
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    page.evaluate(f"document.querySelector('.player').clock.goTo({starts[4]})")
    page.click(".play")
    page.wait_for_function("Number(document.querySelector('.sheet').dataset.litBar) >= 6")
    page.click(".play")
    bar = int(page.get_attribute(".sheet", "data-lit-bar"))
    floor = page.locator(".player").bounding_box()["y"]
    for index in (bar, bar + 1):
        box = page.locator(f'.narrow .bar-light[data-bar="{index}"]').bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= floor


def test_figures_can_be_read_on_a_small_telephone(opened):
    """Bar numbers have 9.5 px or more, chords are larger; staves have 18 px or more."""
    page = opened(viewport={"width": 360, "height": 740}, is_mobile=True)
    hard_view(page)
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    chords = page.evaluate(
        """() => [...document.querySelectorAll(
            ".figure .narrow svg.form-chart [data-bar] text")]
          .map((text) => Number(text.getAttribute("font-size")) * text.getScreenCTM().a)"""
    )
    assert len(chords) >= 8
    assert min(chords) >= 9.5
    staves = page.evaluate(
        """() => [...document.querySelectorAll(".figure .narrow g.staff")].map((staff) => {
            const lines = [...staff.children].filter((child) => child.tagName === "path");
            const boxes = lines.map((line) => line.getBoundingClientRect());
            return boxes.at(-1).bottom - boxes[0].top;
          })"""
    )
    assert len(staves) >= 8
    assert min(staves) >= 18


def test_what_differs_is_bracketed_at_both_levels(opened):
    page = opened()
    page.check('.levels input[value="hard"]', force=True)
    page.wait_for_function("document.documentElement.dataset.drawn === 'hard/alto-sax'")
    marks = page.evaluate(
        """() => [...document.querySelectorAll(
            '[data-kind="comparison"] .wide .lk-pair svg')]
          .map((svg) => svg.querySelectorAll(".differs-mark").length)"""
    )
    assert len([count for count in marks if count]) == 2


def test_links_to_parts_of_other_levels_are_not_offered(opened):
    page = opened()
    for link in page.locator(".contents a:visible").all():
        target = link.get_attribute("href")
        assert page.locator(target).is_visible(), target


def test_downloads_of_the_public_page_are_found_from_where_a_build_puts_it(opened):
    page = opened(audience="public")
    assert page.url.endswith("/public/index.html")
    for link in page.locator(".downloads a").all():
        assert link.get_attribute("href").startswith("../")
