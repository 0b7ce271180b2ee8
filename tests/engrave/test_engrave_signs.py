"""Signs above and beside the staff: swing, tempo, numbers, hairpins, octave signs."""

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction

import pytest

from kit.engrave._svg_swing import is_swung
from kit.engrave.drawing import engrave_excerpt, engrave_lines
from kit.engrave.engraver import PAPER
from kit.engrave.words import describe_bars
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Note, SpanEnd, Tune, Word
from kit.tune.pitch import NoteName, Pitch

SVG = "{http://www.w3.org/2000/svg}"
SCALE = [Pitch.parse(name) for name in ("C5", "D5", "E5", "F5")]


def bars(count, *, sections=(), quarters=4, pitches=SCALE):
    made = []
    for number in range(1, count + 1):
        length = Fraction(4, quarters)
        notes = tuple(
            Note(i * length, length, pitches[i % len(pitches)]) for i in range(quarters)
        )
        chords = (ChordEvent(Fraction(0), ChordSymbol(NoteName("C"))),)
        label = dict(sections).get(number, "")
        made.append(Bar(number, notes, chords, section=label))
    made[-1] = replace(made[-1], barline="final")
    return made


def part(made, **more):
    return write_part(
        Tune("Signs", tuple(made), **more), instrument("concert"), octave_shift=0
    )


def parsed(drawing):
    return ET.fromstring(drawing.svg)


def texts(root):
    return ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]


def line_numbers(drawing):
    """Give the number that stands left of each line of music."""
    found = []
    for system in parsed(drawing).iter(f"{SVG}g"):
        if system.get("class") == "system":
            first = system.find(f"{SVG}g[@class='measure']")
            found.append([t.text for t in first.findall(f"{SVG}text")])
    return found


@pytest.mark.parametrize(
    ("feel", "swung"),
    [("Swing", True), ("Medium swing", True), ("Slow shuffle", True),
     ("Swung eighths", True), ("", False), ("Bossa nova", False),
     ("Straight eighths", False),
     ("Swing tune, even eighths", False)],
)  # fmt: skip
def test_a_feel_is_swung_by_its_words(feel, swung):
    assert is_swung(feel) is swung


def swing_sign(drawing):
    return next(
        (
            g
            for g in parsed(drawing).iter(f"{SVG}g")
            if g.get("aria-label") == "swung eighths"
        ),
        None,
    )


def test_swung_eighths_are_shown_with_the_tempo():
    made = part(bars(8), feel="Medium swing", tempo_qpm=120.0)
    sign = swing_sign(engrave_excerpt(made))
    assert sign is not None
    assert texts(sign) == ["(", "=", "3", ")"]
    assert len(list(sign.iter(f"{SVG}ellipse"))) == 4
    assert swing_sign(engrave_excerpt(made, first=4)) is None
    assert swing_sign(engrave_excerpt(part(bars(8), feel="Bossa", tempo_qpm=120.0))) is None


def test_the_swing_sign_is_clear_of_what_stands_behind_it():
    high = [Pitch.parse(name) for name in ("A5", "B5", "C6", "A5")]
    drawing = engrave_excerpt(
        part(bars(8, pitches=high), feel="Medium swing", tempo_qpm=126)
    )
    sign = swing_sign(drawing)
    foot = max(float(t.get("y")) for t in sign.iter(f"{SVG}text"))
    right = max(float(t.get("x")) for t in sign.iter(f"{SVG}text"))
    root = parsed(drawing)
    heads = [
        tuple(map(float, re.findall(r"-?[\d.]+", use.get("transform"))[:2]))
        for note in root.iter(f"{SVG}g")
        if note.get("class") == "note"
        for use in note.iter(f"{SVG}use")
    ]
    above = [y for x, y in heads if x < right + 200 and y < 4000]
    assert above
    assert min(above) - 90 >= foot
    chords = [
        float(text.get("y"))
        for group in root.iter(f"{SVG}g")
        if group.get("class") == "harm"
        for text in group.iter(f"{SVG}text")
    ]
    top = foot - 500
    assert all(y < top + 120 or y > foot + 200 for y in chords)


def test_every_line_shows_its_number_section_or_not():
    made = part(bars(16, sections={1: "A", 9: "B"}.items()))
    assert line_numbers(engrave_excerpt(made)) == [[], ["5"], ["9"], ["13"]]


def test_a_line_that_begins_with_a_pickup_shows_the_bar_it_leads_to():
    made = bars(8, sections={1: "A", 5: "B"}.items())
    made[3] = replace(made[3], notes=made[3].notes[:3])
    lead = Bar(4, (Note(Fraction(0), Fraction(1), SCALE[0]),), pickup=True)
    made.insert(4, lead)
    assert line_numbers(engrave_excerpt(part(made))) == [[], ["5"]]


def test_an_excerpt_shows_the_number_of_its_first_bar():
    assert line_numbers(engrave_excerpt(part(bars(16)), first=6, last=9)) == [["7"]]


@pytest.mark.parametrize("quarters", [1, 4])
def test_a_last_line_of_four_bars_is_as_wide_as_the_others(quarters):
    drawing = engrave_excerpt(part(bars(8, quarters=quarters)))
    ends = []
    for system in parsed(drawing).iter(f"{SVG}g"):
        if system.get("class") == "system":
            staves = [
                path.get("d")
                for staff in system.iter(f"{SVG}g")
                if staff.get("class") == "staff"
                for path in staff.findall(f"{SVG}path")
            ]
            ends.append(max(float(re.search(r"L(\S+)", d)[1]) for d in staves))
    assert len(ends) == 2
    assert ends[0] == pytest.approx(ends[1], abs=60)


def test_a_last_line_of_two_bars_is_not_stretched():
    *_, last = engrave_lines(part(bars(10)), page=PAPER)
    staves = [path.get("d") for path in parsed(last).iter(f"{SVG}path")]
    right = max(float(m[1]) for d in staves if (m := re.match(r"M\S+ \S+ L(\S+)", d)))
    whole = float(parsed(last).get("viewBox").split()[2])
    assert right < 0.8 * whole


def test_hairpins_and_octave_signs_are_drawn():
    made = bars(4)
    plain = engrave_excerpt(part(made))
    ends = [
        SpanEnd(at, kind, opens)
        for at, opens in ((Fraction(0), True), (Fraction(4), False))
        for kind in ("8va", "crescendo")
    ]
    made[1] = replace(made[1], spans=tuple(ends))
    drawing = engrave_excerpt(part(made))
    assert drawing.svg.count("<polyline") + drawing.svg.count("<path") > (
        plain.svg.count("<polyline") + plain.svg.count("<path")
    )
    assert "stroke-dasharray" in drawing.svg
    (_, second, *_) = drawing.description
    assert "Crescendo begins." in second
    assert "Passage printed an octave lower than it sounds ends." in second


def test_an_optional_octave_is_printed_in_words():
    made = bars(4)
    made[1] = replace(
        made[1],
        spans=(
            SpanEnd(Fraction(0), "optional 8vb", opens=True),
            SpanEnd(Fraction(4), "optional 8vb", opens=False),
        ),
    )
    drawing = engrave_excerpt(part(made))
    assert "8vb ad lib." in texts(parsed(drawing))
    assert "may be played an octave lower begins." in describe_bars(part(made))[1]


def test_a_change_of_tempo_is_printed_with_its_note():
    made = bars(8)
    made[5] = replace(made[5], words=(Word(Fraction(2), "Slower", "tempo", 92.0),))
    root = parsed(engrave_excerpt(part(made, tempo_qpm=120.0)))
    assert {"Slower", "=\u00a092", "=\u00a0120"} <= set(texts(root))
