"""The drawn form: what it shows, to whom, and what it refuses to carry."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from kit.form.chart import ChartTheme, form_chart_svg, form_chart_words
from kit.form.find import find_form

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def drawing(aaba):
    return ET.fromstring(form_chart_svg(aaba, find_form(aaba), show_changes=True))


def test_every_bar_is_on_the_map_with_its_printed_number(drawing):
    bars = [g for g in drawing.iter(f"{SVG}g") if "data-bar" in g.attrib]
    assert [int(g.get("data-bar")) for g in bars] == list(range(32))
    assert [int(g.get("data-number")) for g in bars] == list(range(1, 33))


def test_sections_carry_their_labels(drawing):
    groups = [g for g in drawing if "data-section" in g.attrib]
    assert [g.get("data-label") for g in groups] == ["A", "A", "B", "A"]


def test_equal_sections_share_a_pattern_and_unequal_ones_do_not(aaba):
    svg = form_chart_svg(aaba, find_form(aaba))
    used = re.findall(r"url\(#(form\w+-p\d)\)", svg)
    assert (len(used), len(set(used))) == (30, 2)


def test_differing_bars_are_marked_without_colour(drawing):
    changed = [g for g in drawing.iter(f"{SVG}g") if g.get("data-changed")]
    assert [g.get("data-number") for g in changed] == ["16", "32"]
    assert all(g.find(f".//{SVG}path") is not None for g in changed)


def test_a_reader_who_sees_nothing_hears_the_same(aaba, drawing):
    form = find_form(aaba)
    words = form_chart_words(aaba, form)
    assert drawing.get("role") == "img"
    assert drawing.find(f"{SVG}desc").text == words
    assert "A, second time: bars 9–16, C minor, as the first time except bar 16." in words


def test_without_colour_only_ink_and_paper_are_used(aaba):
    svg = form_chart_svg(aaba, find_form(aaba), theme=ChartTheme(colour=False))
    assert set(re.findall(r"#[0-9a-fA-F]{6}\b", svg)) == {"#1a1a1a", "#4a4a4a", "#ffffff"}


def test_cells_are_to_scale(drawing):
    boxes = drawing.findall(f".//{SVG}g[@data-bar]//{SVG}rect[@height='47']")
    widths = {box.get("width") for box in boxes}
    assert len(widths) == 1
    assert all(float(b.get("x")) + float(b.get("width")) <= 720 for b in boxes)


def test_a_title_cannot_bring_markup_along(aaba, marked):
    hostile = replace(aaba, title='<script>alert(1)</script>"&')
    labelled = marked(hostile, {0: "<b>x</b>", 16: "B"})
    svg = form_chart_svg(labelled, find_form(labelled))
    ET.fromstring(svg)
    assert "<script" not in svg
    assert "<b>" not in svg


def test_two_charts_on_a_page_do_not_share_ids(aaba):
    form = find_form(aaba)
    one = set(re.findall(r' id="([^"]+)"', form_chart_svg(aaba, form)))
    other = set(re.findall(r' id="([^"]+)"', form_chart_svg(aaba, form, show_changes=True)))
    assert one
    assert not one & other


def test_the_same_tune_gives_the_same_drawing(aaba):
    form = find_form(aaba)
    assert form_chart_svg(aaba, form) == form_chart_svg(aaba, form)
