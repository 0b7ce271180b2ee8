"""Signs that no font has are told with their place, and an underscore is no such sign."""

from __future__ import annotations

import io
import json

import pypdf
import pytest

from kit.check.lesson import check_lesson
from kit.engrave.printed_signs import SURE, _complaint, unprintable
from kit.publish.handout.pdf import handout_pdf

LYRICS = '"C"c2 e2 g2 z2 | "F"a2 f2 c2 z2 | "G"g2 d2 B2 z2 | "C"c6 z2 |\nw: {}'


def errors(lesson):
    return [f for f in check_lesson(lesson.folder) if f.severity == "error"]


@pytest.mark.parametrize("drawn", [False, True])
def test_typst_prints_every_sign_that_it_is_not_asked_for(drawn):
    assert _complaint(["".join(sorted(SURE - {"\n"}))], drawn) is None
    assert _complaint([f"a{sign}b" for sign in sorted(SURE)], drawn) is None


def test_each_text_is_told_with_the_first_sign_to_blame():
    texts = ["Fine ♭", "Sax 🎷", "two 🎷 of them", "bell\x07", "half \ud83c", "\u5915"]
    found = unprintable(texts)
    assert found["Sax 🎷"] == found["two 🎷 of them"] == "🎷"
    assert found["bell\x07"] == "\x07"
    assert found["half \ud83c"] == "\ud83c"
    assert "Fine ♭" not in found


def test_a_byte_order_mark_and_double_signs_are_printed():
    assert unprintable(["a\ufeffb", "𝄫 and 𝄪"]) == {}
    assert unprintable(["𝄫 and 𝄪"], drawn=True) == {}


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (('title = "Test"', 'title = "Sax 🎷"'), "the title"),
        (('title = "Test"', 'title = "Sax 🎷"\ncomposer = "🎷"'), "the composer's name"),
        (('title = "Test"', 'title = "Test"\nschool = "🎷"'), "the school's name"),
        (('basis = "own work"', 'basis = "own work"\nstatement = "🎷"'), "the statement"),
        (("tempo = 100", 'tempo = 100\ntitle = "🎷"'), 'the title of level "beginner"'),
        (('label = "A"', 'label = "🎷"'), "the label of a section"),
        (
            ("[rights]", '[recording]\ntalk = [{ say = "🎷", seconds = 2 }]\n[rights]'),
            "said",
        ),
    ],
)
def test_what_lesson_toml_wants_printed_is_looked_at(make_lesson, change, what):
    lesson = make_lesson()
    settings = lesson.folder / "lesson.toml"
    settings.write_text(settings.read_text("utf-8").replace(*change), "utf-8")
    found = [str(error) for error in errors(lesson)]
    assert all(
        error.startswith("error: test-lesson/lesson.toml: no font") for error in found
    )
    assert any(what in error and "saxophone, U+1F3B7" in error for error in found)


def test_a_sign_that_only_a_page_shows_needs_no_font(make_lesson):
    lesson = make_lesson()
    settings = lesson.folder / "lesson.toml"
    settings.write_text(f'summary = "🎷"\n{settings.read_text("utf-8")}', "utf-8")
    assert errors(lesson) == []


def test_a_control_sign_in_lesson_toml_is_left_out_and_needs_no_font(make_lesson):
    lesson = make_lesson()
    settings = lesson.folder / "lesson.toml"
    text = settings.read_text("utf-8").replace('"Test"', '"Te\\u0007st"')
    settings.write_text(f'summary = "a\\u0007"\n{text}', "utf-8")
    assert errors(lesson) == []


@pytest.mark.parametrize(
    ("music", "bar", "what"),
    [
        (LYRICS.format("la la la | 🎷 la"), 2, "a syllable"),
        ('"C"c2 e2 g2 z2 | "^🎷""F"a2 f2 c2 z2 | "G"g4 z4 | "C"c6 z2 |', 2, "the words"),
    ],
)
def test_what_the_notation_wants_printed_is_told_with_its_bar(
    make_lesson, music, bar, what
):
    (error,) = errors(make_lesson(music))
    assert str(error).startswith(
        f"error: test-lesson/tune.abc, bar {bar}: no font here can"
    )
    assert what in str(error)


def test_what_a_level_has_from_the_tune_is_told_once(make_lesson):
    more = '[[levels]]\nname = "advanced"\ntempo = 140\nedits = "levels/advanced.toml"\n'
    edits = '[[edits]]\nkind = "shift"\nbar = 1\nbeat = 1\nby = "later"\n'
    lesson = make_lesson(
        LYRICS.format("🎷 la"), more=more, files={"levels/advanced.toml": edits}
    )
    assert sum("🎷" in str(error) for error in errors(lesson)) == 1


def test_an_underscore_in_a_syllable_is_printed_as_it_is_written(make_lesson):
    lesson = make_lesson(LYRICS.format("xylo q la la"))
    score = (lesson.folder / "tune.abc").read_text("utf-8")
    assert "xylo" in score
    # In ABC an underscore holds a syllable on; MusicXML has it as a letter.
    from kit.tune.musicxml.write import write_musicxml

    xml = write_musicxml(lesson.tune).replace(">xylo<", ">xy_lo_<")
    (lesson.folder / "tune.abc").unlink()
    (lesson.folder / "tune.musicxml").write_text(xml, encoding="utf-8")
    lesson = lesson.refreshed()
    assert errors(lesson) == []
    pdf = handout_pdf(lesson, "beginner", "trumpet")
    assert "xy_lo_" in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


@pytest.mark.parametrize(
    "prose",
    ["> ##### five", "> " * 400 + "deep", "- # one\n\n  ###### six", "1. - > " * 40 + "x"],
)
def test_prose_of_any_depth_is_set_on_paper(make_lesson, prose):
    lesson = make_lesson()
    cells = [{"cell_type": "markdown", "metadata": {}, "source": prose}]
    notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    (lesson.folder / "lesson.ipynb").write_text(json.dumps(notebook), "utf-8")
    assert errors(lesson) == []
    assert handout_pdf(lesson, "beginner", "trumpet", notebook).startswith(b"%PDF")
