"""[rights], [recording] and [catalogue] of lesson.toml, and the check that reads them."""

from datetime import date

import pytest

from kit.check._rights import rights_unclear
from kit.errors import LessonError
from kit.lesson.lesson import open_lesson
from kit.lesson.publish_tables import Talk
from kit.lesson.settings import read_settings
from kit.rights.ledger import Person

LEAST = 'title = "A Tune"\n[[levels]]\nname = "easy"\ntempo = 96\n'


@pytest.fixture
def folder(tmp_path):
    folder = tmp_path / "a-tune"
    folder.mkdir()
    (folder / "tune.abc").write_text("X:1\nT:A Tune\nK:C\nC4|\n")
    return folder


def read(folder, text):
    (folder / "lesson.toml").write_text(LEAST + text, encoding="utf-8")
    return read_settings(folder)


LEDGER = """
[rights]
basis = "public domain"
published = 1919
countries = ["us", "FR"]
composers = [{ name = "A. Smith", died = 1940 }]
lyricists = [{ name = "B. Jones", died = 1950 }]
arrangers = [{ name = "C. Brown", died = 1930, published = 1925 }]
"""


def test_the_ledger_is_read_whole(folder):
    rights = read(folder, LEDGER).rights
    assert rights.composers == (Person("A. Smith", 1940),)
    assert rights.countries == ("US", "FR")
    assert [work.what for work in rights.works] == [
        "the tune",
        "the arrangement by C. Brown",
    ]
    assert rights.statement.startswith("Music: A. Smith († 1940). Words: B. Jones")


def test_a_statement_of_ones_own_is_printed_instead(folder):
    text = LEDGER.replace("published = 1919", 'published = 1919\nstatement = "Mine."')
    assert read(folder, text).rights.statement == "Mine."


def test_recording_and_catalogue_are_read(folder):
    settings = read(
        folder,
        '[recording]\ntalk = [{ say = "Hello", seconds = 5 }]\nvideos = ["easy:flute"]\n'
        '[catalogue]\ncourse = "Path"\norder = 3\npublished = 2026-02-01\n',
    )
    assert settings.recording.talk == (Talk("Hello", 5.0),)
    assert settings.recording.videos == (("easy", "flute"),)
    assert settings.catalogue.published == date(2026, 2, 1)
    assert (settings.catalogue.course, settings.catalogue.order) == ("Path", 3)


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("[rights]\npublished = 19", r"in \[rights\], published = 19 is no likely year"),
        ("[rights]\npublished = true", r'"published" must be a whole number'),
        ('[rights]\ncountries = ["XX"]', r'terms of "XX" are not known; choose from US'),
        ("[rights]\ncomposers = [{ died = 1900 }]", r'\[rights.composers 1\], "name" is'),
        ('[rights]\ncomposers = [{ name = " " }]', r'"name" is empty'),
        (
            '[rights]\nanonymous = true\ncomposers = [{ name = "A" }]',
            r"anonymous, and someone is named",
        ),
        ('[rights]\nlicense = "x"', r'"license" means nothing here; did you mean licence'),
        ('[recording]\nvideos = ["easy"]', r'no video "easy" to make; write level:instr'),
        ('[recording]\nvideos = ["easy:tuba"]', r'no video "easy:tuba"'),
        ("[recording]\ntalk = [{ say = 'x', seconds = -1 }]", r"-1 seconds is out of"),
        ('[catalogue]\npublished = "soon"', r"must be a date such as 2026-01-31"),
    ],
)
def test_a_mistake_is_one_sentence_with_its_place(folder, text, complaint):
    with pytest.raises(LessonError, match=complaint) as caught:
        read(folder, text)
    assert str(caught.value).startswith("a-tune/lesson.toml: ")


def test_the_check_follows_the_ledger_on_the_day(folder):
    read(folder, '[rights]\nbasis = "public domain"\npublished = 1940\nanonymous = true')
    lesson = open_lesson(folder)
    (early,) = rights_unclear(lesson, date(2005, 1, 1))
    assert (early.severity, early.file) == ("error", "a-tune/lesson.toml")
    (between,) = rights_unclear(lesson, date(2026, 1, 1))
    assert (between.severity, between.code) == ("warning", "rights-differ")
    assert list(rights_unclear(lesson, date(2036, 1, 1))) == []
