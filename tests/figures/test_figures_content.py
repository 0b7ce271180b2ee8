import re

import pytest

from kit.errors import LessonError, LevelError
from kit.figures.comparison import comparison
from kit.figures.excerpt import excerpt
from kit.figures.form_chart import form_chart
from kit.figures.player import player
from kit.figures.practice_plan import practice_plan
from kit.figures.route_words import route_words
from kit.figures.solo_guide import solo_guide
from kit.lesson.choices import stretches
from kit.lesson.lesson import open_lesson


@pytest.fixture
def repeated(tmp_path):
    """Two strains of two bars behind repeat signs, a pick-up before each."""
    (tmp_path / "tune.abc").write_text(
        "X:1\nT:March\nM:2/4\nL:1/8\nK:Bb\nP:A\n"
        'F | "Bb"B2 d2 | "F7"c2 F :|\nP:B\nf | "F7"c2 e2 | "Bb"B3 :|\n',
        encoding="utf-8",
    )
    (tmp_path / "lesson.toml").write_text(
        'title = "March"\ninstruments = ["clarinet"]\n'
        '[[levels]]\nname = "plain"\ntempo = 90\n'
        'route = [{ play = "head", tag = { bars = 1, times = 2 } }]\n',
        encoding="utf-8",
    )
    return open_lesson(tmp_path)


def test_the_route_is_said_passage_by_passage(small):
    assert route_words(small.level("beginner")) == "Count-in 2 bars; head A A B A"
    assert route_words(small.level("intermediate")) == (
        "Count-in 2 bars; head A A B A; solo A; "
        "head A, its last two bars three times in all"
    )


def test_labels_stay_together_where_lines_are_broken(small):
    words = route_words(small.level("beginner"), space="\u00a0")
    assert words == "Count-in 2 bars; head A\u00a0A\u00a0B\u00a0A"


def test_a_tag_of_one_bar_played_twice_is_said_so(repeated):
    assert route_words(repeated.level("plain")) == (
        "Count-in 2 bars; head A A B B, its last bar twice in all"
    )


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ('intro = "vamp"', "Count-in 2 bars; intro 4 bars; head A A B B"),
        (
            'intro = "turnaround"\nending = "ring"',
            "Count-in 2 bars; intro 4 bars; head A A B B",
        ),
        ('ending = "ritardando"', "Count-in 2 bars; head A A B B; slowing down at the end"),
        ('ending = "stop"', "Count-in 2 bars; head A A B B; the last chord cut short"),
    ],
)
def test_the_route_tells_how_the_band_begins_and_ends(repeated, wish, words):
    path = repeated.folder / "lesson.toml"
    text = path.read_text(encoding="utf-8").partition("route =")[0]
    path.write_text(f"{text}{wish}\n", encoding="utf-8")
    assert route_words(open_lesson(repeated.folder).level("plain")) == words


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ('play = "head", band = "stop-time"', "head A A B B in stop-time"),
        ('play = "head", band = "double-time"', "head A A B B in double time"),
        (
            'play = "solo", band = "trading-fours"',
            "solo A A B B, fours traded with the drums",
        ),
        ('play = "head", break = 1', "head A A B B, a break in its last bar"),
        (
            'play = "head", tag = { bars = 2, times = 3, vamp = true }',
            "head A A B B, its last two bars three times in all as a vamp",
        ),
    ],
)
def test_the_route_tells_what_the_band_does(repeated, row, words):
    path = repeated.folder / "lesson.toml"
    text = path.read_text(encoding="utf-8").partition("route =")[0]
    path.write_text(f"{text}route = [{{ {row} }}]\n", encoding="utf-8")
    said = route_words(open_lesson(repeated.folder).level("plain"))
    assert said == f"Count-in 2 bars; {words}"


def test_sections_are_offered_with_their_bars(small):
    offered = [(s.name, s.title) for s in stretches(small.level("intermediate"))]
    assert offered == [
        ("", "all, bars 1–20"),
        ("head", "head, bars 1–16"),
        ("A", "A, first time, bars 1–4"),
        ("A2", "A, second time, bars 5–8"),
        ("B", "B, bars 9–12"),
        ("A3", "A, third time, bars 13–16"),
        ("solo", "written solo, bars 17–20"),
    ]


def test_what_a_repeat_sign_plays_again_is_offered_once(repeated):
    level = repeated.level("plain")
    assert [s.name for s in stretches(level)] == ["", "A", "B"]
    again = excerpt(repeated, level="plain", instrument="clarinet", section="A2")
    once = excerpt(repeated, level="plain", instrument="clarinet", section="A")
    assert again.html == once.html


def test_an_excerpt_is_in_the_written_key_of_the_instrument(small):
    alto = excerpt(small, level="beginner", instrument="alto-sax", section="A")
    tenor = excerpt(small, level="beginner", instrument="tenor-sax", section="A")
    assert "Beginner, alto saxophone, in A minor" in alto.html
    assert "Beginner, tenor saxophone, in D minor" in tenor.html
    assert "Bar 1, A minor seven" in alto.words
    assert "Bar 1, D minor seven" in tenor.words
    assert "Bar 5" not in alto.words


def test_an_excerpt_shows_just_the_bars_asked_for(small):
    shown = excerpt(small, level="beginner", instrument="concert", bars=(2, 3))
    assert "bars 2 and 3" in shown.title
    assert shown.html.count('class="measure"') == 2
    assert shown.options == {"level": "beginner", "instrument": "concert", "bars": (2, 3)}


def test_sections_and_bars_that_are_not_there_are_refused_with_the_choices(small):
    part = {"level": "beginner", "instrument": "alto-sax"}
    with pytest.raises(LevelError, match="choose from A, A2, B, A3"):
        excerpt(small, **part, section="C")
    with pytest.raises(LevelError, match="no bar 99; choose from 1 to 16"):
        excerpt(small, **part, bars=(1, 99))
    with pytest.raises(ValueError, match="not for both"):
        excerpt(small, **part, section="A", bars=(1, 2))
    with pytest.raises(LessonError, match='no instrument "oboe"'):
        excerpt(small, level="beginner", instrument="oboe")


def test_the_form_chart_says_what_the_form_saves(small):
    chart = form_chart(small)
    assert (
        "Learn the A section and you know 12 of the 16 bars: three quarters" in chart.words
    )
    assert "concert pitch, in C minor" in chart.html
    assert "in A minor" in form_chart(small, instrument="alto-sax").html


def test_a_comparison_tells_a_change_to_three_sections_once(small):
    compared = comparison(
        small, lower="beginner", upper="intermediate", instrument="alto-sax"
    )
    assert "Bars 2, 6 and 14: " in compared.words
    assert "eighth early" in compared.words
    assert "120 beats a minute" in compared.html
    assert "150 beats a minute" in compared.html
    assert compared.html.count("<svg") == 2


def test_a_level_compared_with_itself_has_no_differences(small):
    same = comparison(small, lower="beginner", upper="beginner", instrument="alto-sax")
    assert "The notes and changes are the same." in same.words


def test_the_player_says_bars_length_and_file(small):
    words = player(small, level="intermediate", mix="backing").words
    # 16 + 4 + 4 + 2 x 2 bars of four beats at 150 a minute: 44.8 s.
    assert "28 bars, 0:45, after the count-in" in words
    assert "audio/intermediate-backing.mp3" in words
    with pytest.raises(ValueError, match="is no mix"):
        player(small, level="intermediate", mix="loud")


@pytest.mark.parametrize("draw", [solo_guide, practice_plan])
def test_advice_names_notes_in_the_written_key(small, draw):
    alto = draw(small, level="intermediate", instrument="alto-sax").words
    tenor = draw(small, level="intermediate", instrument="tenor-sax").words
    assert "alto saxophone, in A minor" in alto
    assert "tenor saxophone, in D minor" in tenor


def test_the_solo_guide_names_scales_of_the_written_key(small):
    alto = solo_guide(small, level="intermediate", instrument="alto-sax").words
    concert = solo_guide(small, level="intermediate", instrument="concert").words
    assert "A blues" in alto or "A minor" in alto
    assert "C blues" in concert or "C minor" in concert


def test_the_solo_guide_says_each_chords_own_scale_in_words_as_in_its_table(small):
    figure = solo_guide(small, level="intermediate", instrument="concert")
    rows = re.findall(r'<tr><th scope="row">(.*?)</tr>', figure.html)
    assert rows
    for row in rows:
        symbol, *_, scale = re.sub(r"</?t[hd]>", "|", row).strip("|").split("||")
        assert f"Over {symbol}, " in figure.words
        assert f"Its own scale: {scale}." in figure.words
