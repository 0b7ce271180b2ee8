"""The feel of a new lesson: what the file says, or what the teacher chooses."""

import pytest

from kit.authoring.first_look import TuneChoice, first_look
from kit.authoring.start import start_lesson
from kit.check.lesson import check_lesson
from kit.errors import LessonError
from kit.lesson.lesson import open_lesson

BARS = {
    "6/8": '"D"d2e f2e', "9/8": '"D"d2e f2e d3', "4/4": '"D"d2e2 f2e2', "2/4": '"D"d2e2',
    "3/4": '"D"d2e2f2', "2/2": '"D"d2e2 f2e2', "12/8": '"D"d2e f2e d2e f3',
}  # fmt: skip
DANCES = [
    ("Double Jig", "6/8", "jig"),
    ("hop jig", "9/8", "jig"),
    ("slide", "12/8", "jig"),
    ("single reel", "2/2", "reel"),
    ("Set Dance", "4/4", "hornpipe"),
    ("polkas", "2/4", "polka"),
    ("Waltzes", "3/4", "waltz"),
    ("varsovienne", "3/4", "waltz"),
    ("quick march", "6/8", "march"),
    ("Tango", "2/4", "tango"),
    ("highland", "2/2", "strathspey"),
    ("strathspey", "4/4", "strathspey"),
    ("Slow air", "6/8", "six-eight"),
    ("psalm", "4/4", "hymn"),
    ("", "12/8", "six-eight"),
]
SCORE = """<score-partwise version="4.0"><part-list><score-part id="P1">
<part-name>M</part-name></score-part></part-list>
<part id="P1"><measure number="1"><attributes><divisions>1</divisions>
<key><fifths>0</fifths></key><time><beats>{beats}</beats><beat-type>4</beat-type>
</time></attributes><direction placement="above"><direction-type><words>{words}</words>
</direction-type></direction><note><pitch><step>C</step><octave>5</octave></pitch>
<duration>{beats}</duration></note></measure></part></score-partwise>"""


def abc(tmp_path, rhythm, meter):
    file = tmp_path / "tune.abc"
    said = f"R:{rhythm}\n" if rhythm else ""
    music = "|".join([BARS[meter]] * 8)
    file.write_text(f"X:1\nT:Test\n{said}M:{meter}\nL:1/8\nK:D\n{music}|]\n")
    return file


@pytest.mark.parametrize(("rhythm", "meter", "feel"), DANCES)
def test_a_rhythm_field_gives_a_feel_with_which_check_agrees(tmp_path, rhythm, meter, feel):
    file = abc(tmp_path, rhythm, meter)
    assert first_look(file).feel == feel
    folder = start_lesson(file, tmp_path / "lessons")
    assert {level.feel for level in open_lesson(folder).settings.levels} == {feel}
    codes = {finding.code for finding in check_lesson(folder)}
    assert not codes & {"feel-meter", "feel-tempo", "clave"}


@pytest.mark.parametrize(
    ("words", "beats", "feel"),
    [
        ("Bossa Nova", 4, "bossa-nova"),
        ("Medium Swing", 4, "medium-swing"),
        ("Funk", 4, "funk"),
        ("Med. Shuffle", 4, "shuffle-blues"),
        ("Fast Samba", 4, "samba"),
        ("Tempo di Marcia", 2, "march"),
        ("Jazz Waltz", 3, "jazz-waltz"),
        ("Samba", 3, "straight-eighths"),
    ],
)
def test_words_above_the_first_bar_give_a_feel(tmp_path, words, beats, feel):
    file = tmp_path / "tune.musicxml"
    file.write_text(SCORE.format(words=words, beats=beats))
    assert first_look(file).feel == feel


def test_another_feel_can_be_chosen_and_one_that_there_is_not_is_refused(tmp_path):
    file = abc(tmp_path, "jig", "6/8")
    look = first_look(file, choice=TuneChoice(feel="march"))
    assert look.feel == "march"
    assert ("Feel", "March") in look.facts
    with pytest.raises(LessonError, match='no feel "marsch"; choose from ballad'):
        first_look(file, choice=TuneChoice(feel="marsch"))
