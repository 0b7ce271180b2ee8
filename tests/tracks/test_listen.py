"""Bars heard on the bench are played the way the level is."""

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from kit.lesson.lesson import open_lesson
from kit.tracks.listen import bars_audio, bars_rendition
from kit.tune.pitch import Interval

SMALL = Path(__file__).resolve().parents[1] / "figures" / "small-lesson"


@pytest.fixture
def lesson(tmp_path):
    folder = tmp_path / "small"
    shutil.copytree(SMALL, folder)
    toml = folder / "lesson.toml"
    said = (
        'tempo = 120\nsteady = true\nchords = "four-to-the-bar"\nending = "stop"\n'
        'section_feels = { B = "bossa-nova" }'
    )
    text = toml.read_text(encoding="utf-8").replace("tempo = 120", said)
    toml.write_text(f"{text}\n[audio]\na4 = 442\n", encoding="utf-8")
    return open_lesson(folder)


def plan(lesson, first, last):
    head = lesson.level("beginner").head
    return bars_rendition(lesson, "beginner", head, first=first, last=last)


def test_the_band_plays_as_the_level_says(lesson):
    planned = plan(lesson, 0, 1)
    assert planned.is_steady
    assert planned.chords == "four-to-the-bar"
    assert planned.a4_hz == 442
    assert planned.perform().a4_hz == 442
    assert not planned.stops


def test_bars_keep_the_section_they_belong_to(lesson):
    assert [bar.section for bar in plan(lesson, 7, 8).route.bars] == ["A", "B"]
    assert [bar.number for bar in plan(lesson, 7, 8).route.bars] == [8, 9]


def test_a_section_with_a_feel_of_its_own_is_heard_in_it(lesson):
    def cymbals(first):
        played = plan(lesson, first, first + 1).perform()
        return {note.midi for note in played.events if note.player == "drums"}

    assert cymbals(0) != cymbals(8)


def test_what_is_heard_is_what_stands_on_the_bench(lesson):
    head = lesson.level("beginner").head
    row = head.bars[5]
    moved = [
        replace(note, pitch=note.pitch and note.pitch + Interval.parse("M2"))
        for note in row.notes
    ]
    bars = [*head.bars]
    bars[5] = replace(row, notes=tuple(moved))
    tried = replace(head, bars=tuple(bars))
    show = bars_rendition(lesson, "beginner", tried, first=5, last=5).perform()
    heard = [event.midi for event in show.of("melody")]
    assert heard == [note.pitch.midi for note in moved if note.pitch]


def test_two_bars_last_two_bars(lesson):
    head = lesson.level("beginner").head
    audio = bars_audio(lesson, "beginner", head, first=0, last=1)
    # 4 s at 120, and the ring behind them.
    assert 4.0 < audio.seconds < 8.0


@pytest.mark.parametrize(("first", "last"), [(-1, 0), (3, 2), (0, 99)])
def test_bars_that_are_not_there_are_refused(lesson, first, last):
    with pytest.raises(ValueError, match="there are no bars"):
        plan(lesson, first, last)
