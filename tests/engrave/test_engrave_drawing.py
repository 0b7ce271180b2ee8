"""Drawings: complete, self-contained, addressable, and the size that was asked for."""

import re
import threading
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest

from kit.engrave.drawing import engrave_excerpt, engrave_lines
from kit.engrave.engraver import PHONE, Page
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.chord import ChordSymbol, Degree
from kit.tune.model import Bar, ChordEvent, Grace, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch

B_FLAT = ChordSymbol(NoteName("B", -1), "dominant", (Degree(9, -1),))
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def make_part():
    """Build a part of so many bars of four quarters, a section every eight."""

    def make(count=16, slug="concert", *, marks=(), **more):
        pitches = [Pitch.parse(name) for name in ("C5", "Eb5", "D5", "G4")]
        bars = [
            Bar(
                number,
                tuple(
                    Note(Fraction(i), Fraction(1), pitch) for i, pitch in enumerate(pitches)
                ),
                (
                    ChordEvent(Fraction(0), B_FLAT),
                    ChordEvent(Fraction(2), ChordSymbol(NoteName("C"), "minor")),
                ),
                key=Key.parse("C minor"),
                section="AB"[(number - 1) // 8 % 2] if number % 8 == 1 else "",
            )
            for number in range(1, count + 1)
        ]
        graced = replace(bars[0].notes[0], graces=(Grace(Pitch.parse("B4")),), marks=marks)
        bars[0] = replace(bars[0], notes=(graced, *bars[0].notes[1:]))
        bars[-1] = replace(bars[-1], barline="final")
        fields = {"title": "Tiny", "feel": "Swing", "tempo_qpm": 120.0, **more}
        return write_part(Tune(bars=tuple(bars), **fields), instrument(slug))

    return make


def parsed(drawing):
    return ET.fromstring(drawing.svg)


def ids(drawing):
    return {e.get("data-id") for e in parsed(drawing).iter() if e.get("data-id")}


def shown(drawing):
    """Give the texts of a drawing."""
    return ["".join(text.itertext()) for text in parsed(drawing).iter(f"{SVG}text")]


def test_every_symbol_can_be_addressed(make_part):
    part = make_part(8)
    expected = {f"b{i}" for i in range(8)}
    expected |= {f"b{i}n{k}" for i in range(8) for k in range(4)} | {"b0n0g0"}
    expected |= {f"b{i}c{k}" for i in range(8) for k in range(2)}
    assert ids(engrave_excerpt(part)) == expected


def test_ids_are_the_same_in_every_key(make_part):
    assert ids(engrave_excerpt(make_part(slug="alto-sax"))) == ids(
        engrave_excerpt(make_part(slug="trombone"))
    )


def test_an_excerpt_holds_its_bars_under_their_own_ids(make_part):
    drawing = engrave_excerpt(make_part(), first=4, last=5)
    assert {i for i in ids(drawing) if re.fullmatch(r"b\d+", i)} == {"b4", "b5"}
    assert (drawing.first, drawing.last) == (4, 5)
    assert drawing.label == "Tiny, bars 5 to 6, Concert pitch"
    assert "5" in shown(drawing)


def test_drawing_twice_gives_the_same_picture(make_part):
    assert engrave_excerpt(make_part()).svg == engrave_excerpt(make_part()).svg


def test_two_drawings_share_no_ids(make_part):
    one, two = engrave_excerpt(make_part()), engrave_excerpt(make_part(slug="alto-sax"))
    first, second = (
        {e.get("id") for e in parsed(d).iter() if e.get("id")} for d in (one, two)
    )
    assert first
    assert not first & second


def test_every_glyph_used_is_there(make_part):
    root = parsed(engrave_excerpt(make_part(marks=("accent", "trill-mark"))))
    names = {e.get("id") for e in root.iter() if e.get("id")}
    used = {use.get("href").removeprefix("#") for use in root.iter(f"{SVG}use")}
    assert used
    assert used <= names


def test_texts_need_no_music_font(make_part):
    for line in engrave_lines(make_part()):
        assert not re.search("[\ue000-\uf8ff]", line.svg)
        assert "@font-face" not in line.svg
    assert "B♭7♭9" in shown(engrave_excerpt(make_part()))


def test_nothing_is_loaded_from_elsewhere_or_run(make_part):
    evil = make_part(title='"><script>alert(1)</script>', feel="<img src=x onerror=y>")
    svg = engrave_excerpt(evil).svg
    root = ET.fromstring(svg)
    assert {e.tag.removeprefix(SVG) for e in root.iter()} <= {
        "svg", "defs", "g", "path", "use", "text", "tspan", "rect", "ellipse", "circle",
        "polygon", "polyline",
    }  # fmt: skip
    assert re.findall(r"https?://[^\"]+", svg) == ["http://www.w3.org/2000/svg"]
    assert "<img src=x onerror=y>" in " ".join(shown(engrave_excerpt(evil)))


def test_it_is_a_picture_with_a_name(make_part):
    root = parsed(engrave_excerpt(make_part(slug="alto-sax")))
    assert root.get("role") == "img"
    assert root.get("aria-label") == "Tiny, bars 1 to 16, Alto saxophone"


def test_the_section_letters_and_the_tempo_are_printed(make_part):
    texts = shown(engrave_excerpt(make_part()))
    assert {"A", "B", "Swing", "=\u00a0120"} <= set(texts)
    later = shown(engrave_excerpt(make_part(), first=8))
    assert "B" in later
    assert "Swing" not in later
    bare = engrave_excerpt(make_part(), page=Page(sections=False))
    assert "A" not in shown(bare)


def test_lines_are_four_bars_and_as_wide_as_the_page(make_part):
    lines = engrave_lines(make_part(), page=Page(width_mm=160.0))
    assert [(line.first, line.last) for line in lines] == [
        (0, 3),
        (4, 7),
        (8, 11),
        (12, 15),
    ]
    assert all(line.width_mm == pytest.approx(160, abs=0.2) for line in lines)


def test_the_staff_is_as_high_as_asked(make_part):
    drawing = engrave_excerpt(make_part(), page=Page(width_mm=180, staff_mm=7))
    root = parsed(drawing)
    staff = root.find(f".//{SVG}g[@class='staff']")
    heights = sorted(
        {
            float(re.match(r"M\S+ (\S+) L", path.get("d"))[1])
            for path in staff.findall(f"{SVG}path")
        }
    )[:5]
    units_per_mm = float(root.get("viewBox").split()[2]) / drawing.width_mm
    assert (heights[4] - heights[0]) / units_per_mm == pytest.approx(7, abs=0.05)


def test_thirty_two_bars_and_a_heading_fit_one_a4_page(make_part):
    lines = engrave_lines(make_part(32))
    assert len(lines) == 8
    heading_mm, gaps_mm = 45, 7 * 2.5
    assert sum(line.height_mm for line in lines) + heading_mm + gaps_mm < 297 - 26


def test_a_short_excerpt_is_not_stretched(make_part):
    whole, two = engrave_excerpt(make_part()), engrave_excerpt(make_part(), first=4, last=5)
    assert two.width_mm < 0.6 * whole.width_mm


def test_a_telephone_gets_two_bars_a_line(make_part):
    lines = engrave_lines(make_part(8), page=PHONE)
    assert [(line.first, line.last) for line in lines] == [(0, 1), (2, 3), (4, 5), (6, 7)]


def test_an_excerpt_begins_with_the_chord_in_force(make_part):
    part = make_part()
    drawing = engrave_excerpt(part, first=1, last=1)
    assert shown(drawing)[:1] == ["2"]
    assert "B♭7♭9" in shown(drawing)


@pytest.mark.parametrize("mark", ["falloff", "doit", "scoop", "plop"])
def test_jazz_articulations_are_drawn(make_part, mark):
    plain = engrave_excerpt(make_part())
    marked = engrave_excerpt(make_part(marks=(mark,)))

    def curves(drawing):
        note = parsed(drawing).find(f".//{SVG}g[@data-id='b0n0']")
        return [p for p in note.findall(f"{SVG}path") if p.get("fill") == "none"]

    assert len(curves(marked)) == len(curves(plain)) + 1


@pytest.mark.parametrize(("first", "last"), [(0, 16), (3, 2), (-1, 2)])
def test_bars_that_are_not_there_are_refused(make_part, first, last):
    with pytest.raises(ValueError, match="there are no bars"):
        engrave_excerpt(make_part(), first=first, last=last)


def test_a_page_needs_a_size():
    with pytest.raises(ValueError, match="size above zero"):
        Page(width_mm=0)


def test_threads_do_not_disturb_each_other(make_part):
    slugs = ["alto-sax", "trombone", "flute", "tuba"]
    parts = {slug: make_part(12, slug, title="Threads") for slug in slugs}
    found = {}

    def work(slug):
        found[slug] = engrave_excerpt(parts[slug]).svg

    threads = [threading.Thread(target=work, args=(slug,)) for slug in slugs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for slug in slugs:
        assert f"{parts[slug].instrument.name}" in found[slug]
        assert found[slug] == engrave_excerpt(parts[slug]).svg


def test_bars_too_full_for_their_line_get_smaller_staves_and_then_more_lines(make_part):
    part = make_part(8)
    quarter = Fraction(1, 4)
    full = tuple(
        Note(i * quarter, quarter, Pitch.parse("C#5" if i % 2 else "D5"),
             graces=(Grace(Pitch.parse("B4")), Grace(Pitch.parse("C5"))))
        for i in range(16)
    )  # fmt: skip
    bars = tuple(replace(bar, notes=full) for bar in part.tune.bars)
    part = replace(part, tune=replace(part.tune, bars=bars))
    page = Page(width_mm=180.0, staff_mm=7.0)
    lines = engrave_lines(part, page=page)
    covered = [index for line in lines for index in range(line.first, line.last + 1)]
    assert covered == list(range(8))
    assert len(lines) > 2
    for line in lines:
        assert line.width_mm == pytest.approx(180, abs=1)
        assert {f"b{i}" for i in range(line.first, line.last + 1)} <= ids(line)
    usual = engrave_lines(make_part(8), page=page)
    assert lines[0].height_mm < 1.5 * usual[0].height_mm
