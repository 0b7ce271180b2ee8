"""Every figure on one page, checked by axe-core (WCAG 2.2 A and AA rules) and by measuring.

Source: axe-core 4, as bundled with axe-playwright-python.
"""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from kit.figures.by_kind import drawing
from kit.figures.excerpt import excerpt
from kit.figures.figure import figure_css
from kit.lesson.figure_calls import FIGURES
from kit.lesson.lesson import open_lesson

pytestmark = pytest.mark.browser
CALL = {
    "level": "intermediate", "instrument": "alto-sax", "section": "A", "mix": "backing",
    "lower": "beginner", "upper": "intermediate",
}  # fmt: skip


@pytest.fixture(scope="module")
def document(lab_folder) -> str:
    lesson = open_lesson(lab_folder / "lamplighters-detour")
    shown = [
        drawing(row.kind)(lesson, **{n: CALL[n] for n in row.parameters if n in CALL})
        for row in FIGURES
    ]
    shown += [
        excerpt(lesson, level="intermediate", instrument="alto-sax", section="solo"),
        excerpt(lesson, level="beginner", instrument="clarinet", findings=True),
    ]
    body = "".join(figure.html for figure in shown)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Figures</title>'
        '<meta name="viewport" content="width=device-width"><style>'
        "body { font: 16px/1.5 sans-serif; margin: 1rem } "
        "@media (prefers-color-scheme: dark) { body { background: #111; color: #eee } }"
        f"{figure_css()}</style></head><body><main><h1>Figures</h1>{body}</main>"
        "</body></html>"
    )


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_to_complain_of(page, document, scheme):
    page.emulate_media(color_scheme=scheme)
    page.set_content(document)
    page.evaluate("document.querySelectorAll('details').forEach((d) => (d.open = true))")
    found = Axe().run(
        page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa", "wcag22aa"]}
    )
    assert found.violations_count == 0, found.generate_report()


def test_a_narrow_page_scrolls_only_downward(page, document):
    page.set_viewport_size({"width": 360, "height": 740})
    page.set_content(document)
    assert page.evaluate("document.documentElement.scrollWidth") <= 360


def test_every_drawing_has_a_name(page, document):
    page.set_content(document)
    names = page.evaluate(
        "[...document.querySelectorAll('svg[role=img]')].map((s) => "
        "s.getAttribute('aria-label') ?? s.querySelector('title')?.textContent ?? '')"
    )
    assert len(names) > 5
    assert all(len(name) > 10 for name in names)
