"""The table of instruments, and a lesson's own rows."""

import pytest

from kit.errors import LessonError
from kit.instruments.table import LEVEL_NAMES, Instrument, all_instruments, instrument
from kit.tune.pitch import Pitch

ROW = {"name": "Ocarina", "written": "P1", "range": ["A4", "F6"], "clef": "treble"}


def test_every_instrument_of_the_issue_is_there():
    slugs = {each.slug for each in all_instruments()}
    assert slugs >= {
        "alto-sax", "tenor-sax", "soprano-sax", "baritone-sax", "clarinet",
        "bass-clarinet", "e-flat-clarinet", "oboe", "flute", "piccolo", "bassoon",
        "trumpet", "flugelhorn", "horn", "trombone", "euphonium", "euphonium-treble",
        "tuba", "violin", "viola", "cello", "guitar", "double-bass", "voice",
        "soprano-recorder", "alto-recorder", "concert", "concert-bass",
    }  # fmt: skip


@pytest.mark.parametrize("each", all_instruments(), ids=lambda each: each.slug)
def test_levels_widen_within_the_range(each):
    ranges = [each.comfortable_range(level) for level in LEVEL_NAMES]
    for inner, outer in zip(ranges, (*ranges[1:], each.range_written), strict=True):
        assert inner.low in outer
        assert inner.high in outer


@pytest.mark.parametrize("each", all_instruments(), ids=lambda each: each.slug)
def test_breath_grows_with_the_level(each):
    lengths = [each.breath_length_s(level) for level in LEVEL_NAMES]
    if each.family in ("strings", "score"):
        assert lengths == [None] * 3
    else:
        assert 0 < lengths[0] < lengths[1] < lengths[2]


def test_a_level_of_another_name_is_intermediate():
    alto = instrument("alto-sax")
    assert alto.comfortable_range("second year") == alto.comfortable_range("intermediate")


def test_an_unknown_name_lists_what_is_near():
    with pytest.raises(LessonError, match=r'no instrument "alto"; did you mean .*alto-sax'):
        instrument("alto")
    with pytest.raises(LessonError, match="there are alto-sax, tenor-sax"):
        instrument("zzz")


def test_a_lesson_may_add_an_instrument():
    ocarina = instrument("ocarina", {"ocarina": ROW})
    assert ocarina.range_written.low == Pitch.parse("A4")
    assert not ocarina.transposes
    assert ocarina.comfortable_range("beginner") == ocarina.range_written


def test_a_lesson_may_overrule_a_row_in_part():
    own = instrument("trumpet", {"trumpet": {"levels": {"beginner": ["C4", "G4"]}}})
    assert own.comfortable_range("beginner").high == Pitch.parse("G4")
    assert own.written_above_concert == instrument("trumpet").written_above_concert


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"written": "M4"}, "no such quality"),
        ({"range": ["F6", "A4"]}, "goes upward"),
        ({"range": ["A4"]}, "two notes"),
        ({"range": [1, 2]}, "text in quotation marks"),
        ({"clef": "soprano"}, "no clef"),
        ({"program": 128}, "0 to 127"),
        ({"name": " "}, "text in quotation marks"),
        ({"levels": {"beginner": ["A3", "C5"]}}, "leaves the instrument's range"),
        ({"levels": ["A4"]}, "cannot be used"),
        ({"breaks": [["A4", "B4"]]}, "cannot be used"),
        ({"colour": "red"}, 'unknown entry "colour"'),
    ],
)
def test_a_wrong_row_says_what_is_wrong(change, message):
    with pytest.raises(LessonError, match=message):
        Instrument.from_row("ocarina", {**ROW, **change})


def test_a_row_without_a_needed_entry_names_it():
    with pytest.raises(LessonError, match='lacks the entry "written"'):
        Instrument.from_row("ocarina", {"name": "Ocarina", "range": ["A4", "F6"]})


def test_a_break_is_crossed_by_small_steps_only():
    crossing = instrument("clarinet").breaks[0]
    assert crossing.crossed_by(Pitch.parse("A4"), Pitch.parse("C5"))
    assert crossing.crossed_by(Pitch.parse("C5"), Pitch.parse("A4"))
    assert not crossing.crossed_by(Pitch.parse("C5"), Pitch.parse("D5"))
    assert not crossing.crossed_by(Pitch.parse("E4"), Pitch.parse("E5"))
