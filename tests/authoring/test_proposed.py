"""A lesson with proposed changes says so, can be changed back, and can be accepted."""

from __future__ import annotations

import io
import tomllib

import pypdf
import pytest
from nbformat.v4 import new_notebook

from kit.accompany.proposal import PROPOSED
from kit.authoring.first_look import TuneChoice, first_look
from kit.authoring.proposed import accept_changes, slots_now, take_chord
from kit.authoring.start import start_lesson
from kit.check.lesson import check_lesson
from kit.errors import LessonError, NotationError
from kit.lesson.lesson import Lesson, open_lesson
from kit.publish.handout.pdf import handout_pdf
from kit.publish.page.exporter import page_html
from kit.publish.parts import part_musicxml
from kit.tune.read import read_tune

BARE = """X:1
T:Bare Bones
M:4/4
L:1/4
Q:1/4=100
K:G
P:A
GBdB|cege|dfaf|g4|
P:B
ecAc|dBGB|Adfa|g4|]
"""
OTHER = 'X:2\nT:Other\nM:4/4\nL:1/4\nK:C\n"C"c4|\n'
PROPOSING = TuneChoice(propose_changes=True)


@pytest.fixture
def bare(tmp_path):
    path = tmp_path / "bare.abc"
    path.write_text(BARE, encoding="utf-8")
    return path


@pytest.fixture
def lesson(bare, tmp_path) -> Lesson:
    return open_lesson(start_lesson(bare, tmp_path / "lessons", choice=PROPOSING))


def mark_of(lesson: Lesson) -> str | None:
    return tomllib.loads((lesson.folder / "lesson.toml").read_text("utf-8")).get("changes")


def chords_of(lesson: Lesson) -> list[str]:
    return [str(event.symbol) for bar in lesson.tune.bars for event in bar.chords]


def codes_of(lesson: Lesson) -> dict[str, str]:
    return {found.code: found.severity for found in check_lesson(lesson.folder)}


def test_every_level_has_chords_and_the_lesson_passes_its_check(lesson):
    assert chords_of(lesson) == ["G", "C", "D7", "G", "Am", "G", "D7", "G"]
    assert all(any(bar.chords for bar in level.sheet.bars) for level in lesson.levels)
    assert "error" not in codes_of(lesson).values()


def test_the_file_as_given_stays_beside_it_byte_for_byte_and_is_enough_to_go_back(
    lesson, bare
):
    given = lesson.folder / "as-given.abc"
    assert given.read_bytes() == bare.read_bytes()
    toml = lesson.folder / "lesson.toml"
    text = toml.read_text("utf-8").replace('"tune.musicxml"', '"as-given.abc"')
    toml.write_text(text.replace('changes = "proposed"', ""), encoding="utf-8")
    back = open_lesson(lesson.folder)
    assert chords_of(back) == []
    assert back.tune.bars == read_tune(bare).bars


def test_of_a_book_the_chosen_tune_alone_stays_beside_it(tmp_path):
    book = tmp_path / "book.abc"
    book.write_text(BARE + "\n" + OTHER, encoding="utf-8")
    choice = TuneChoice(number=1, propose_changes=True)
    folder = start_lesson(book, tmp_path / "lessons", choice=choice)
    given = (folder / "as-given.abc").read_text("utf-8")
    assert "Bare Bones" in given
    assert "Other" not in given


def test_a_tune_with_changes_of_its_own_is_refused_and_nothing_is_made(tmp_path):
    file = tmp_path / "other.abc"
    file.write_text(OTHER, encoding="utf-8")
    with pytest.raises(NotationError, match=r"other\.abc: the tune has changes of its own"):
        start_lesson(file, tmp_path / "lessons", choice=PROPOSING)
    assert not (tmp_path / "lessons").exists()


def test_without_the_wish_nothing_is_proposed(bare, tmp_path):
    lesson = open_lesson(start_lesson(bare, tmp_path / "plain"))
    assert chords_of(lesson) == []
    assert mark_of(lesson) is None
    assert "proposed-changes" not in codes_of(lesson)


def test_the_form_is_that_of_the_melody_alone(bare):
    with_chords = first_look(bare, choice=PROPOSING)
    assert with_chords.form == first_look(bare).form
    assert dict(with_chords.facts)["Changes"] == "8 chord symbols, proposed"
    assert PROPOSED in with_chords.doubts


def test_check_handout_page_and_parts_say_that_the_changes_are_proposed(lesson):
    assert codes_of(lesson)["proposed-changes"] == "warning"
    for text in said_to_students(lesson):
        assert "the source has none" in text


def test_what_is_accepted_is_nowhere_called_proposed(lesson):
    accept_changes(lesson)
    assert mark_of(lesson) is None
    assert "proposed" not in (lesson.folder / "lesson.toml").read_text("utf-8")
    assert "proposed-changes" not in codes_of(lesson)
    for text in said_to_students(lesson):
        assert "proposed" not in text


def said_to_students(lesson: Lesson) -> list[str]:
    pdf = handout_pdf(lesson, "beginner", "alto-sax")
    first = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    return [
        " ".join(first.split()),
        part_musicxml(lesson, "beginner", "alto-sax"),
        page_html(lesson, new_notebook(), audience="members"),
    ]


def test_another_chord_is_written_where_it_was_chosen_and_nowhere_else(lesson):
    before = chords_of(lesson)
    slot = slots_now(lesson)[4]
    other = next(chord for chord in slot.choices if chord.numeral == "IV")
    take_chord(lesson, 4, "IV")
    assert chords_of(lesson) == [*before[:4], str(other.symbol), *before[5:]]
    assert mark_of(lesson) == "proposed"
    take_chord(lesson, 4, slot.proposed.chosen.numeral)
    assert chords_of(lesson) == before


def test_a_tune_that_another_program_has_saved_is_left_alone(lesson):
    path = lesson.folder / "tune.musicxml"
    text = path.read_text("utf-8").replace("<measure ", "<!-- mine --><measure ", 1)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(LessonError, match="saved by another program"):
        take_chord(lesson, 0, "IV")
    assert path.read_text("utf-8") == text


def test_what_is_not_among_the_choices_is_refused_in_one_sentence(lesson):
    for place, numeral in ((0, "XIX"), (99, "I"), (-1, "I")):
        with pytest.raises(LessonError, match="there is no chord"):
            take_chord(lesson, place, numeral)


def test_a_chord_cannot_be_taken_once_the_changes_are_the_teachers(lesson):
    accept_changes(lesson)
    with pytest.raises(LessonError, match="are not proposed ones"):
        take_chord(lesson, 0, "IV")


def test_a_mark_that_means_nothing_is_an_error_with_the_nearest(lesson):
    toml = lesson.folder / "lesson.toml"
    text = toml.read_text("utf-8").replace('"proposed"', '"propossed"')
    toml.write_text(text, encoding="utf-8")
    with pytest.raises(LessonError, match=r'changes = "propossed" is not known.*proposed'):
        open_lesson(lesson.folder)


def test_a_level_with_a_file_of_its_own_has_the_changes_of_that_file(lesson):
    (lesson.folder / "levels" / "own.abc").write_text(OTHER, encoding="utf-8")
    toml = lesson.folder / "lesson.toml"
    text = toml.read_text("utf-8").replace(
        'edits = "levels/advanced.toml"', 'notation = "levels/own.abc"'
    )
    toml.write_text(text, encoding="utf-8")
    lesson.reread()
    assert lesson.changes_are_proposed("beginner")
    assert not lesson.changes_are_proposed("advanced")
