"""What rubs and what turns round, in small cases and in performances."""

from __future__ import annotations

from pathlib import Path

import pytest

from kit.band.events import NoteEvent
from kit.band.groove import HEARD_TOGETHER_S, comping, rubs
from kit.lesson.lesson import open_lesson
from kit.tracks.rendition import rendition

LESSONS = Path(__file__).resolve().parents[2] / "lessons"


def event(player: str, midi: int, start: float, end: float) -> NoteEvent:
    return NoteEvent(player, midi, start, end - start, 64)


@pytest.mark.parametrize(
    ("chord", "found"),
    [
        (59, [False]),  # a semitone under C5, an octave lower
        (71, [False]),
        (73, [True]),
        (85, [True]),
        (72, []),
        (83, []),  # a major seventh above is a colour
        (61, []),  # and so is one below
    ],
)
def test_what_rubs(chord: int, found: list[bool]) -> None:
    melody = [event("melody", 72, 0, 1)]
    got = rubs(melody, [event("chords", chord, 0.5, 2)])
    assert [rub.is_above for rub in got] == found


def test_what_passes_does_not_rub() -> None:
    melody = [event("melody", 72, 0, 0.5), event("melody", 76, 0.5, 1)]
    late = 0.5 - HEARD_TOGETHER_S + 0.01
    assert not list(rubs(melody, [event("chords", 71, late, 0.99)]))
    assert list(rubs(melody, [event("chords", 71, late - 0.02, 0.99)]))


@pytest.mark.parametrize(
    "folder", sorted(p.parent.name for p in LESSONS.glob("*/lesson.toml"))
)
def test_the_chords_asked_are_those_of_the_performance(folder: str) -> None:
    lesson = open_lesson(LESSONS / folder)
    for name in lesson.level_names:
        level = lesson.level(name)
        band = level.settings.band
        asked = comping(
            level.sheet,
            level.route,
            feel=level.settings.feel,
            tempo_qpm=level.tempo_qpm,
            section_feels=band.section_feels,
            chord_style=band.chords,
            harmony=band.harmony or "written",
        )
        played = rendition(lesson, name).perform().of("chords")
        ours = [note.midi for note in asked.chords]
        assert ours
        # The performance has the last bar's chord as well.
        heard = [note.midi for note in played]
        assert sorted(ours) == sorted(heard[: len(ours)])
