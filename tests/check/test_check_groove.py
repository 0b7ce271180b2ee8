"""Feel, tempo, clave and chords in the melody's way; nothing of what is usual."""

from dataclasses import replace

import pytest

from kit.band.events import PartNote
from kit.band.groove import comping
from kit.check.lesson import findings_beside, lesson_findings
from kit.lesson.lesson import open_lesson
from kit.tracks.rendition import rendition

HEAD = "X:1\nT:Test\nM:{meter}\nL:1/8\nK:C\n"
SETTINGS = """
title = "Test"
instruments = ["concert"]
sections = [{sections}]
[rights]
basis = "own work"
"""
LEVEL = """
[[levels]]
name = "{name}"
tempo = {tempo}
feel = "{feel}"
route = [{route}]
{more}
"""
USUAL = {"route": '{ play = "head" }', "more": ""}
GROOVE = {"feel-meter", "feel-tempo", "clave", "chord-in-the-way"}
BAR = {
    "4/4": '"C"c2 e2 g2 z2',
    "3/4": '"C"c2 e2 z2',
    "6/8": '"C"c2e g2z',
    "5/4": '"C"c4 e4 z2',
}
HEADS = '{ play = "head" }, { play = "head" }'


@pytest.fixture
def checked(tmp_path):
    """Check a lesson of plain bars; give its groove findings."""

    def check(*levels, meter="4/4", bars=8, music="", sections=""):
        folder = tmp_path / "test-lesson"
        folder.mkdir(exist_ok=True)
        text = (
            HEAD.format(meter=meter) + (music or " | ".join([BAR[meter]] * bars)) + " |]\n"
        )
        (folder / "tune.abc").write_text(text)
        named = sections or f'{{ label = "A", bars = "1-{bars}" }}'
        rows = [
            LEVEL.format(**USUAL | {"name": f"level-{n}"} | row)
            for n, row in enumerate(levels)
        ]
        (folder / "lesson.toml").write_text(SETTINGS.format(sections=named) + "".join(rows))
        (folder / "lesson.ipynb").write_text(
            '{"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}'
        )
        lesson = open_lesson(folder)
        found = lesson_findings(lesson)
        assert not [str(one) for one in found if one.severity == "error"]
        return lesson, [one for one in found if one.code in GROOVE]

    return check


def test_a_waltz_for_four_beats_is_told_with_feels_that_fit(checked):
    _, (found,) = checked({"tempo": 120, "feel": "waltz"})
    assert str(found) == (
        "hint: test-lesson/lesson.toml, bar 1: bar 1 is in 4/4, and the feel Waltz is made "
        'for 3/4 and 3/8; choose a feel for 4/4, such as "bossa-nova", '
        '"calypso" or "cha-cha".'
    )
    assert (found.code, found.level) == ("feel-meter", "level-0")


@pytest.mark.parametrize(
    ("feel", "meter"),
    [
        ("jig", "6/8"),
        ("waltz", "3/4"),
        ("medium-swing", "5/4"),
        ("straight-eighths", "3/4"),
    ],
)
def test_a_feel_that_fits_is_not_told(checked, feel, meter):
    _, found = checked({"tempo": 120, "feel": feel}, meter=meter)
    assert found == []


def test_one_bar_of_another_meter_is_usual(checked):
    music = " | ".join([BAR["4/4"]] * 3 + ['[M:2/4] "C"c2 z2', "[M:4/4] " + BAR["4/4"]] * 1)
    _, found = checked({"tempo": 120, "feel": "march"}, bars=5, music=music)
    assert found == []


def test_the_feel_of_a_section_is_told_at_its_first_bar(checked):
    sections = '{ label = "A", bars = "1-4" }, { label = "B", bars = "5-8" }'
    more = 'section_feels = { B = "jig" }'
    level = {"tempo": 120, "feel": "march", "more": more}
    _, (found,) = checked(level, sections=sections)
    assert (found.code, found.bar) == ("feel-meter", 5)


def test_only_the_fastest_level_can_be_too_slow(checked):
    slow, fast = {"tempo": 50, "feel": "march"}, {"tempo": 100, "feel": "march"}
    assert checked(slow, fast)[1] == []
    _, (found,) = checked(slow, slow | {"tempo": 60})
    assert found.text == (
        "level level-1 is slower (60) than the feel March is played in 4/4, 96 to 144 "
        "beats a minute"
    )


def test_a_level_can_be_too_fast_and_a_tenth_is_given(checked):
    assert checked({"tempo": 150, "feel": "march"})[1] == []
    _, (found,) = checked({"tempo": 200, "feel": "march"})
    assert "faster (200)" in found.text


@pytest.mark.parametrize("feel", ["bossa-nova", "son-montuno", "second-line"])
def test_a_form_of_odd_length_turns_the_clave_round(checked, feel):
    level = {"tempo": 160, "feel": feel, "route": HEADS}
    assert checked(level, bars=8)[1] == []
    _, (found,) = checked(level, bars=7)
    assert found.code == "clave"
    assert found.bar == 1
    assert found.text == (
        "bar 1 comes again after 7 bars, an odd number, and lies on the other side of the "
        "clave, like 6 more bars"
    )


def test_what_has_no_clave_may_be_odd(checked):
    assert checked({"tempo": 120, "feel": "march", "route": HEADS}, bars=7)[1] == []


def test_a_section_that_comes_again_after_an_odd_one_turns_the_clave_round(checked):
    sections = ", ".join(
        f'{{ label = "{label}", bars = "{bars}" }}'
        for label, bars in (("A", "1-4"), ("B", "5-9"), ("A", "10-13"))
    )
    level = {"tempo": 160, "feel": "bossa-nova"}
    _, (found,) = checked(level, bars=13, sections=sections)
    assert (found.bar, found.code) == (10, "clave")
    assert "after 9 bars" in found.text


SEVENTHS = (
    '"Cmaj7"c8 | "Dm7"d8 | "G7"d8 | "Cmaj7"c8 | "Fmaj7"f8 | "Cmaj7"c8 | "G7"d8 | "C"e8'
)


def in_the_way(found):
    return [one for one in found if one.code == "chord-in-the-way"]


def test_a_root_held_over_its_major_seventh_is_told_where_it_is_heard(checked):
    lesson, found = checked({"tempo": 110, "feel": "bossa-nova"}, music=SEVENTHS)
    heard = rendition(lesson, "level-0").perform()
    rubbing = {
        (chord.midi, tune.midi)
        for chord in heard.of("chords")
        for tune in heard.of("melody")
        if chord.start_s < tune.end_s - 0.3
        and tune.start_s < chord.end_s - 0.3
        and (tune.midi - chord.midi) % 12 == 1
    }
    told = in_the_way(found)
    # Told is what sounds; a pianist who leaves the seventh out gives nothing to tell.
    assert bool(told) == bool(rubbing)
    assert len(told) <= 1
    for one in told:
        assert "is heard a half step under the" in one.text
        assert one.notes
        assert set(one.numbers) <= {1, 4, 5, 6}
        assert (
            one in findings_beside(lesson, "level-0", "concert") or one.level == "level-0"
        )


def test_changes_without_the_seventh_give_nothing_to_tell(checked):
    music = SEVENTHS.replace("maj7", "6")
    assert checked({"tempo": 110, "feel": "bossa-nova"}, music=music)[1] == []


def test_many_such_bars_are_one_line_with_the_others_counted(checked, monkeypatch):
    """The pianist strikes what he is told here, however he lays chords out by himself."""
    music = " | ".join(['"Cmaj7"c8'] * 6 + ['"C7"c8', '"C"c8'])

    def struck(*arguments, **choices):
        heard = comping(*arguments, **choices)
        under = [PartNote(note.start, note.duration, 59, 64) for note in heard.line]
        return replace(heard, chords=tuple(under))

    monkeypatch.setattr("kit.check._groove.comping", struck)
    _, found = checked({"tempo": 110, "feel": "hymn"}, music=music)
    (told,) = in_the_way(found)
    assert str(told) == (
        "hint: test-lesson/tune.abc, level-0, bars 1–3: the B of Cmaj7 is heard a half "
        "step under the C held above it, and so in 3 more bars; write C6 or C for Cmaj7 "
        "there, or change the note."
    )
    assert len(told.notes) == 3
