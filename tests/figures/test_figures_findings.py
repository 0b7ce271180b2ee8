"""Findings beside the bars they mean, and the list of all of them."""

import re
import shutil

import pytest

from kit.check.lesson import findings_beside, lesson_findings
from kit.errors import LessonError
from kit.figures._marks import marked
from kit.figures.excerpt import excerpt
from kit.figures.problems import problems
from kit.instruments.transposition import write_part
from kit.lesson.keys import practice_key, practice_keys
from kit.lesson.lesson import open_lesson
from kit.tune.pitch import Key

PART = {"level": "beginner", "instrument": "alto-sax"}


@pytest.fixture(scope="module")
def rough(tmp_path_factory, small):
    """The small lesson with a clash in bar 2, and a solo that rubs in its bar 4."""
    folder = tmp_path_factory.mktemp("lessons") / "rough"
    shutil.copytree(small.folder, folder)
    tune = (folder / "tune.abc").read_text()
    (folder / "tune.abc").write_text(tune.replace('"Fm7"A2 G2 F4', '"Fm7"=A8', 1))
    solo = (folder / "levels/solo.abc").read_text()
    (folder / "levels/solo.abc").write_text(solo.replace('"Cm6"C4 z4', '"Cm6"=E8'))
    edits = (folder / "levels/intermediate.toml").read_text()
    (folder / "levels/intermediate.toml").write_text(
        edits.replace('  { bar = 2, beat = 1, do = "early", by = "eighth" },\n', "")
    )
    return open_lesson(folder)


def rings(html):
    """Give the ids of the notes that bear a ring."""
    return re.findall(
        r'<g data-id="(b\d+n\d+)" class="note"><ellipse class="lk-ring"', html
    )


def flags(html):
    """Give the bars that bear a flag, and what is printed at it."""
    bar = r'data-id="(b\d+)" class="measure">(?:<text.*?</text>)?'
    return re.findall(bar + r'<g class="lk-flag".*?>(\d+)<', html)


def test_an_excerpt_for_students_shows_no_findings(rough):
    shown = excerpt(rough, **PART)
    assert "lk-ring" not in shown.html
    assert "lk-remark" not in shown.html
    assert "hint" not in shown.words


def test_a_finding_stands_beside_its_bar_marked_by_shape_and_number(rough):
    shown = excerpt(rough, **PART, section="A", findings=True)
    assert "b1n0" in rings(shown.html)
    assert ("b1", "2") in flags(shown.html)
    assert "Bar 2 (hint): A over Fm7 is a half step above its third" in shown.words
    assert "A over Fm7" in shown.html
    others = excerpt(rough, **PART, bars=(1, 1), findings=True)
    assert "A over Fm7" not in others.html


def test_only_findings_about_the_bars_shown_are_listed_each_with_these_bars(rough):
    shown = excerpt(rough, **PART, section="B", findings=True)
    assert "b1n0" not in rings(shown.html)
    assert "A over Fm7" not in shown.html
    where = re.findall(r'lk-remark-where">([^<]*)<', shown.html)
    assert where
    assert all(
        9 <= int(number) <= 12 for said in where for number in re.findall(r"\d+", said)
    )


def test_bars_of_a_solo_bear_their_number_on_the_sheet(rough):
    part = {"level": "intermediate", "instrument": "alto-sax"}
    shown = excerpt(rough, **part, section="solo", findings=True)
    assert ("b19", "20") in flags(shown.html)
    assert "Bar 20 (hint): E over Cm6" in shown.words


def test_a_mark_at_the_head_of_any_line_is_drawn(rough):
    svg = excerpt(rough, **PART).html
    bars = {"b0": 1, "b4": 5, "b15": 16}
    assert flags(marked(svg, notes=(), bars=bars)) == [
        ("b0", "1"),
        ("b4", "5"),
        ("b15", "16"),
    ]


def test_a_drawing_grows_where_a_mark_would_leave_it(rough):
    svg = re.search(r"<svg.*?</svg>", excerpt(rough, **PART, bars=(1, 2)).html, re.S)[0]
    box = re.compile(r'viewBox="0 0 \d+ ([\d.]+)"')
    taller = marked(svg, notes=(), bars={"b0": 1})
    assert float(box.search(taller)[1]) >= float(box.search(svg)[1])
    assert marked(svg, notes=("b9n9",), bars={}) == svg


def test_the_list_of_problems_shows_each_finding_with_its_place(rough):
    listed = problems(rough)
    found = lesson_findings(rough)
    assert listed.html.count('class="lk-finding ') == len(found)
    for finding in found:
        assert finding.place in listed.words
    assert "in C minor" in listed.html  # a clash is drawn at the pitch of its words


def test_problems_of_one_level_leave_out_what_concerns_another(rough):
    upper = [f for f in lesson_findings(rough) if f.level == "intermediate"]
    assert upper
    words = problems(rough, level="beginner").words
    assert not any(str(finding) in words for finding in upper)
    with pytest.raises(LessonError, match='no level "expert"; choose from beginner'):
        problems(rough, level="expert")


def test_twelve_keys_are_offered_in_the_mode_of_the_tune():
    for own in (Key.parse("C minor"), Key.parse("Eb major"), Key.parse("D dorian")):
        keys = practice_keys(own)
        assert len({key.tonic.pitch_class for key in keys}) == 12
        assert {key.mode for key in keys} == {own.mode}
        assert all(abs(key.fifths) <= 6 for key in keys)


@pytest.mark.parametrize(
    ("named", "meant"),
    [
        ("F minor", "F minor"),
        ("F", "F minor"),
        ("Gb", "F# minor"),
        ("C minor", None),
        ("", None),
    ],
)
def test_a_key_is_found_by_name_and_the_own_key_is_none(small, named, meant):
    key = practice_key(small, named, level="beginner")
    assert (key.name if key else None) == meant


def test_an_excerpt_in_another_key_is_that_far_away(small):
    own = small.part("beginner", "alto-sax")
    moved = small.part("beginner", "alto-sax", concert_key=Key.parse("F minor"))
    steps = {
        (there.pitch.midi - here.pitch.midi) % 12
        for bar, other in zip(own.tune.bars, moved.tune.bars, strict=True)
        for here, there in zip(bar.notes, other.notes, strict=True)
        if here.pitch
    }
    assert steps == {5}
    assert moved is small.part("beginner", "alto-sax", concert_key=Key.parse("F minor"))
    shown = excerpt(small, **PART, key="F minor")
    assert "in D minor, sounding in F minor" in shown.html
    assert shown.options["key"] == "F minor"


def test_levels_keep_one_octave_in_every_key_but_where_one_would_lie_badly(small):
    for key in practice_keys(small.tune.key):
        for horn in small.settings.instruments:
            parts = [
                small.part(level, horn.slug, concert_key=key) for level in small.level_names
            ]
            if len({part.octave_shift for part in parts}) == 1:
                continue
            for part in parts:
                for other in {other.octave_shift for other in parts} - {part.octave_shift}:
                    there = write_part(
                        small.level(part.level).sheet,
                        horn,
                        level=part.level,
                        concert_key=key,
                        octave_shift=other,
                    )
                    assert len(there.uncomfortable) >= len(part.uncomfortable)


def test_findings_follow_the_key(small):
    keys = [Key.parse("C# minor"), Key.parse("B minor")]
    said = [findings_beside(small, "beginner", "trombone", concert_key=key) for key in keys]
    assert said[0] != said[1]
