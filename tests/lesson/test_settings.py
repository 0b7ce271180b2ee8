"""lesson.toml: what it may say, and how it is told what it may not."""

import pytest

from kit.errors import LessonError
from kit.lesson.settings import read_settings
from kit.route.plan import Passage, Tag

LEAST = """
title = "A Tune"
[[levels]]
name = "beginner"
tempo = 96
"""


@pytest.fixture
def lesson(tmp_path):
    """Write a lesson folder with this lesson.toml and read it."""
    folder = tmp_path / "a-tune"
    folder.mkdir()
    (folder / "tune.abc").write_text("X:1\nT:A Tune\nK:C\nC4|\n")

    def write(text):
        (folder / "lesson.toml").write_text(text, encoding="utf-8")
        return read_settings(folder)

    return write


def test_the_least_lesson_has_sensible_defaults(lesson):
    settings = lesson(LEAST)
    assert settings.slug == "a-tune"
    assert settings.tune == "tune.abc"
    assert settings.default_instrument == "alto-sax"
    assert settings.tiers.free_levels == ("beginner",)
    assert settings.levels[0].route == (Passage("head"),)
    assert settings.levels[0].title == "Beginner"


def test_a_route_is_read_in_order(lesson):
    settings = lesson(
        LEAST
        + """route = [
          { play = "head" },
          { play = "solo", sections = "AAB" },
          { play = "head", sections = "A", tag = { bars = 2, times = 3 } },
        ]"""
    )
    assert settings.levels[0].route == (
        Passage("head"),
        Passage("solo", "AAB"),
        Passage("head", "A", Tag(2, 3)),
    )


def test_a_passage_says_what_the_band_does(lesson):
    settings = lesson(
        LEAST
        + """route = [
          { play = "head", break = 2, tag = { bars = 2, times = 4, vamp = true } },
          { play = "solo", band = "trading-fours" },
        ]"""
    )
    assert settings.levels[0].route == (
        Passage("head", "", Tag(2, 4, is_vamp=True), "full", 2),
        Passage("solo", "", None, "trading-fours"),
    )


@pytest.mark.parametrize(
    ("row", "match"),
    [
        ('play = "head", band = "trading-fours"', "fours are traded in solos"),
        ('play = "solo", band = "stop"', '"stop" is not known'),
        ('play = "solo", break = 9', "a break of 9 bars"),
        ('play = "solo", break = -1', "a break of -1 bars"),
        ('play = "head", tag = { vamp = "yes" }', "vamp"),
    ],
)
def test_what_the_band_cannot_do_is_named(lesson, row, match):
    with pytest.raises(LessonError, match=match):
        lesson(LEAST + f"route = [{{ {row} }}]")


def test_harmony_follows_the_place_of_a_level_unless_it_is_given(lesson):
    more = "".join(f'[[levels]]\nname = "{n}"\ntempo = 100\n' for n in ("b", "c"))
    bands = [level.band.harmony for level in lesson(LEAST + more).levels]
    assert bands == ["plain", "written", "substituted"]
    given = lesson(LEAST + 'harmony = "substituted"\n' + more).levels
    assert given[0].band.harmony == "substituted"
    with pytest.raises(LessonError, match="harmony"):
        lesson(LEAST + 'harmony = "none"\n')


def test_only_kinds_and_levels_marked_free_are_free(lesson):
    tiers = lesson(LEAST + '[tiers]\nfree_kinds = ["handout", "audio"]').tiers
    assert tiers.of("audio", "beginner") == "free"
    assert tiers.of("part", "beginner") == "members"
    assert tiers.of("audio", "advanced") == "members"


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        (
            'tittle = "A Tune"\n' + LEAST,
            r'the key "tittle" means nothing here; did you mean title',
        ),
        ('[[levels]]\nname = "a"\ntempo = 96', r'"title" is missing'),
        ('title = "A"', r"the lesson has no levels"),
        ('tune = "a\\u0000b"\n' + LEAST, r'tune = "a\\x00b" cannot name a file'),
        (
            'instruments = ["x"]\n[[instrument]]\nslug = "../../x"\n' + LEAST,
            r'"../../x" cannot name an instrument',
        ),
        (f"instruments = {['a'] * 501}\n" + LEAST, r'"instruments" has 501 entries'),
        (LEAST + "feel = 3", r'in \[levels 1\], "feel" must be text, not 3'),
        (LEAST + "tempo = 96", r"not valid TOML"),
        ('title = "A"\n[[levels]]\nname = "a"\ntempo = 9999', r"out of reach"),
        ('title = "A"\n[[levels]]\nname = "../a"\ntempo = 99', r"cannot name a level"),
        (
            LEAST + '[[levels]]\nname = "beginner"\ntempo = 9',
            r"in \[levels 2\].*out of reach",
        ),
        (
            LEAST + '[[levels]]\nname = "beginner"\ntempo = 90',
            r'two levels are called "beginner"',
        ),
        (
            'instruments = ["alto"]\n' + LEAST,
            r'no instrument "alto"; did you mean alto-sax',
        ),
        (LEAST + '[rights]\nbasis = "mine"', r'basis = "mine" is not known'),
        (LEAST + 'edits = "a"\nnotation = "b"', r"either edits or notation"),
        (LEAST + 'route = [{ play = "bridge" }]', r'play = "bridge" is not known'),
        (LEAST + '[tiers]\nfree_levels = ["easy"]', r'there is no level "easy"'),
    ],
)
def test_a_mistake_is_one_sentence_with_its_place(lesson, text, complaint):
    with pytest.raises(LessonError, match=complaint) as caught:
        lesson(text)
    assert str(caught.value).startswith("a-tune/lesson.toml: ")
    assert "\n" not in str(caught.value)


def test_a_missing_folder_is_said_so(tmp_path):
    with pytest.raises(LessonError, match="no such lesson folder"):
        read_settings(tmp_path / "nowhere")


def test_text_that_is_not_utf8_is_said_so(tmp_path):
    (tmp_path / "lesson.toml").write_bytes(b'title = "caf\xe9"')
    with pytest.raises(LessonError, match="not UTF-8"):
        read_settings(tmp_path)


def test_rows_of_the_teachers_own_instruments_are_known(lesson):
    row = """
[[instrument]]
slug = "c-melody-sax"
name = "C melody saxophone"
family = "saxophone"
written = "P8"
clef = "treble"
range = ["Bb3", "F6"]
program = 66
"""
    settings = lesson('instruments = ["c-melody-sax"]\n' + LEAST + row)
    assert settings.instruments[0].name == "C melody saxophone"


def test_a_wish_for_sharps_is_kept_for_the_instrument(lesson):
    settings = lesson(LEAST + '[spelling]\ntrumpet = "sharps"')
    assert settings.spelling == (("trumpet", "sharps"),)


def test_a_wish_for_an_instrument_that_is_not_there_is_told(lesson):
    with pytest.raises(LessonError, match=r'the key "tuba" means nothing here'):
        lesson(LEAST + '[spelling]\ntuba = "flats"')


def test_words_lose_what_only_steers_a_machine(lesson):
    text = LEAST.replace("A Tune", "A\\u001b[31m\\u202e Tune\\n\\u0000")
    settings = lesson(text + 'summary = "one\\ntwo\\u0007"')
    assert settings.title == "A [31m Tune"
    assert settings.levels[0].summary == "one\ntwo "


@pytest.mark.parametrize("name", ["caf\udce9", "a\x1b[31m", "a\u202eb", "a\nb"])
def test_a_folder_whose_name_is_no_text_is_one_sentence(tmp_path, name):
    folder = tmp_path / name
    folder.mkdir()
    (folder / "lesson.toml").write_text(LEAST)
    with pytest.raises(LessonError, match="no text; rename the folder") as told:
        read_settings(folder)
    assert str(told.value).isprintable()


@pytest.mark.parametrize("name", ["a\0b", "a\ud800b", "x" * 5000])
def test_a_folder_that_cannot_be_is_one_sentence(name):
    from kit import open_lesson

    with pytest.raises(LessonError, match=r"no folder can have such|name too long"):
        open_lesson(name)
