from __future__ import annotations

from kit.publish.handout._level_changes import MOST_LINES, level_changes


def changes_of(lesson, instrument):
    lower, upper = (lesson.part(name, instrument) for name in ("easy", "hard"))
    return level_changes(lower, upper, bars=len(lower.tune.bars))


def test_changes_are_named_in_the_written_key(lesson):
    lines = changes_of(lesson, "alto-sax").lines
    assert "Bar 1: C becomes Cmaj9." in lines
    assert any("D7♯11" in line for line in lines)
    assert "Bar 1: E♭ becomes E♭maj9." in changes_of(lesson, "flute").lines


def test_the_same_music_has_nothing_new(lesson):
    part = lesson.part("easy", "flute")
    changes = level_changes(part, part, bars=len(part.tune.bars))
    assert changes.lines == ()
    assert changes.summary == (
        "The notes and the changes are the same; tempo and route are not.",
    )


def test_a_written_solo_is_told_by_its_bars(lesson):
    part = lesson.part("easy", "flute")
    changes = level_changes(part, part, bars=5, solo=(5, 4))
    assert changes.lines[-1] == "Bars 5–8: a written solo."


def test_a_new_version_is_summed_up_but_its_changes_are_listed(lesson):
    from dataclasses import replace

    from kit.tune.pitch import Pitch

    part = lesson.part("hard", "flute")
    bars = tuple(
        replace(
            bar,
            notes=tuple(
                replace(note, pitch=Pitch("G", 0, 5 + (index + place) % 2))
                if note.pitch
                else note
                for place, note in enumerate(bar.notes)
            ),
        )
        for index, bar in enumerate(part.tune.bars)
    )
    strange = replace(part, tune=replace(part.tune, bars=bars))
    easy = lesson.part("easy", "flute")
    changes = level_changes(easy, strange, bars=len(bars))
    assert changes.summary[0].startswith("This is a new version of the melody")
    assert "of the 8 bars" in changes.summary[0]
    assert "Bar 1: E♭ becomes E♭maj9." in changes.lines
    assert len(changes.lines) <= MOST_LINES
