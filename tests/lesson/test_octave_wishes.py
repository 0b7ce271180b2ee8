"""The octave of a part: one rule for every level, and the teacher's own choice."""

import shutil

import pytest

from kit.check.lesson import check_lesson
from kit.errors import LessonError
from kit.lesson.lesson import open_lesson
from kit.tune.pitch import Key


@pytest.fixture
def folder(request, tmp_path):
    """Copy a demo lesson, for a table of octaves of one's own."""

    def make(table=""):
        source = request.config.rootpath / "lessons" / "the-girl-i-left-behind-me"
        copy = tmp_path / "girl"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(source, copy)
        settings = copy / "lesson.toml"
        text = settings.read_text(encoding="utf-8")
        settings.write_text(f"{text}\n[octave]\n{table}\n", encoding="utf-8")
        return copy

    return make


def octaves(lesson, slug):
    return [lesson.part(level, slug).octave_shift for level in lesson.level_names]


def test_an_octave_can_be_asked_for(folder):
    own = octaves(open_lesson(folder()), "tenor-sax")
    lesson = open_lesson(folder("tenor-sax = 0"))
    assert octaves(lesson, "tenor-sax") == [0, 0]
    assert (
        "In the usual octave, as asked for." in lesson.part("beginner", "tenor-sax").reasons
    )
    assert own == [-1, -1]


def test_one_level_can_be_asked_for_by_itself(folder):
    lesson = open_lesson(folder("tenor-sax = { beginner = 0 }"))
    assert octaves(lesson, "tenor-sax") == [0, -1]
    assert octaves(lesson, "alto-sax") == octaves(open_lesson(folder()), "alto-sax")


def test_other_keys_keep_the_kits_own_choice(folder):
    lesson = open_lesson(folder("tenor-sax = 0"))
    free = open_lesson(folder())
    key = Key.parse("Ab major")
    asked, own = (
        each.part("beginner", "tenor-sax", concert_key=key) for each in (lesson, free)
    )
    assert asked.octave_shift == own.octave_shift


@pytest.mark.parametrize(
    ("table", "message"),
    [
        ("tenor-sax = 5", r"in \[octave\], tenor-sax = 5 is no octave"),
        ("tenor-sax = true", "is no octave; write a whole number from -3 to 3"),
        ('tenor-sax = "low"', "is no octave"),
        ("tenor-sax = []", "is no octave"),
        ("tenor-sax = { beginner = 0.5 }", "is no octave"),
        ("tenor-sax = { expert = 1 }", 'names a level "expert" that is not there'),
        ("bagpipe = 1", 'no instrument "bagpipe" in this lesson'),
    ],
)
def test_nonsense_is_refused_in_a_sentence(folder, table, message):
    with pytest.raises(LessonError, match=message):
        open_lesson(folder(table))


def test_an_octave_without_the_notes_is_refused_with_the_one_that_lies_best(folder):
    copy = folder("trumpet = 3")
    with pytest.raises(LessonError, match=r"beyond the range of Trumpet.*or write 0"):
        open_lesson(copy).part("beginner", "trumpet")
    errors = [str(each) for each in check_lesson(copy) if each.severity == "error"]
    assert len(errors) == 2
    assert all("[octave] puts most of level" in each for each in errors)
