import re
from html import unescape
from urllib.parse import unquote

import pytest

import kit
from kit.figures.figure import FIGURE_MIME, figure_css
from kit.lesson.figure_calls import FIGURES
from kit.widgets._saved import VIEW_MIME, svgs_as_pictures, view_bundle

CALLS = {r.kind: getattr(kit, r.name) for r in FIGURES if r.kind != "problems"}
"""All but what is for the teacher alone."""


@pytest.mark.parametrize("kind", CALLS)
def test_the_static_form_has_private_type_html_and_words(small, kind):
    bundle = CALLS[kind](small).static_form()
    assert set(bundle) == {FIGURE_MIME, "text/html", "text/plain"}
    assert bundle[FIGURE_MIME] == {"version": 1, "show": kind}
    assert len(bundle["text/plain"]) > 80
    assert "<script" not in bundle["text/html"]


@pytest.mark.parametrize("kind", CALLS)
def test_the_static_form_survives_a_sanitiser_because_drawings_are_pictures(small, kind):
    html = CALLS[kind](small).static_form()["text/html"]
    assert "<svg" not in html
    for alt in re.findall(r'<img class="lk-picture" alt="([^"]*)"', html):
        assert len(alt) > 10


def test_what_the_call_said_is_kept_and_what_it_left_open_stays_open(small):
    view = kit.excerpt(small, level="intermediate", section="B")
    view.choose(instrument="tenor-sax", section="A")
    assert view.static_form()[FIGURE_MIME] == {
        "version": 1,
        "show": "excerpt",
        "level": "intermediate",
        "section": "B",
    }


def test_a_key_named_by_the_call_is_kept(small):
    assert kit.excerpt(small, key="F").static_form()[FIGURE_MIME]["key"] == "F minor"


def test_problems_are_saved_for_the_teacher_and_offer_nothing_to_an_exporter(small):
    assert set(kit.problems(small).static_form()) == {"text/html", "text/plain"}


def test_running_a_notebook_again_saves_the_same_form(small):
    before = kit.excerpt(small, section="A").static_form()
    kit.excerpt(small).choose(instrument="trombone")
    assert kit.excerpt(small, section="A").static_form() == before


def test_a_picture_holds_the_whole_drawing_with_its_label():
    inner = '<svg x="1"><text>♭ 100 %#</text></svg>'
    svg = f'<svg role="img" aria-label="two &quot;bars&quot;">{inner}</svg>'
    html = svgs_as_pictures(f"<p>before</p>{svg}<p>after</p>")
    assert html.startswith("<p>before</p><img")
    assert html.endswith("<p>after</p>")
    source = re.search(r'src="data:image/svg\+xml,([^"]*)"', html)
    assert source is not None
    on_paper = svg.replace("<svg role", '<svg style="background:#fff" role', 1)
    assert unquote(unescape(source[1])) == on_paper
    assert 'alt="two &quot;bars&quot;"' in html


def test_a_picture_with_a_style_of_its_own_keeps_it_and_gets_paper():
    html = svgs_as_pictures(
        '<svg class="music" style="max-width:100%"><g style="a"/></svg>'
    )
    assert (
        '<svg class="music" style="background:#fff;max-width:100%25"><g style="a"/>'
        in unquote(unescape(html)).replace("100%", "100%25")
    )


def test_markup_without_drawings_stays_as_it_is():
    assert svgs_as_pictures("<p>a < b</p>") == "<p>a < b</p>"


def test_the_live_view_shares_no_output_with_the_static_form():
    assert list(view_bundle("abc")) == [VIEW_MIME]


def test_the_saved_outputs_of_the_shipped_lessons_are_small(shipped):
    for call in CALLS.values():
        bundle = call(shipped).static_form()
        size = len(bundle["text/html"].encode()) - len(figure_css().encode())
        assert size < 200_000
