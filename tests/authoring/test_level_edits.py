import shutil
from fractions import Fraction
from pathlib import Path

import pytest

from kit.authoring.level_edits import LevelEdits
from kit.authoring.settings_edits import SettingsEdits
from kit.errors import ConflictError, LessonError, LevelError
from kit.lesson.lesson import open_lesson
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits

ROOT = Path(__file__).resolve().parents[2]


def edit(bar, do, beat=1, **options):
    return Edit(bar, Fraction(beat), do, tuple(options.items()))


@pytest.fixture
def folder(tmp_path):
    home = tmp_path / "lamplighters-detour"
    shutil.copytree(ROOT / "lessons" / "lamplighters-detour", home)
    return home


@pytest.fixture
def edits(folder):
    return LevelEdits(open_lesson(folder), "intermediate")


def text_of(folder):
    return (folder / "levels" / "intermediate.toml").read_text(encoding="utf-8")


def test_an_edit_is_saved_as_one_line_at_its_bar_and_comments_stay(folder, edits):
    before = text_of(folder).splitlines()
    edits.apply(edit(6, "turn"))
    edits.save()
    after = text_of(folder).splitlines()
    assert [line for line in after if line not in before] == [
        '  { bar = 6, beat = 1, do = "turn" },'
    ]
    assert [line for line in before if line not in after] == []
    place = after.index('  { bar = 6, beat = 1, do = "turn" },')
    assert "bar = 5" in after[place - 1]
    assert "bar = 8" in after[place + 1]


def test_what_is_saved_is_what_was_heard(folder, edits):
    edits.apply(edit(2, "accent", beat=2))
    edits.apply(edit(4, "chord", to="D♭7"))
    edits.save()
    reopened = open_lesson(folder)
    level_file = reopened.level_file("intermediate")
    again = apply_edits(reopened.head(level_file.over), level_file.edits)
    assert again.bars == edits.head.bars


def test_an_edit_that_rests_on_the_music_before_it_stays_behind_it(edits):
    # Bar 2's first note comes early, so it begins in bar 1, on beat 4½.
    late = edit(1, "accent", beat=Fraction(9, 2))
    edits.apply(late)
    edits.save()
    assert edits.edits.index(late) > edits.edits.index(edit(2, "early", by="eighth"))


def test_undo_and_redo_reach_every_state_and_the_file_follows(folder, edits):
    states = [edits.edits]
    for bar in (6, 7):
        edits.apply(edit(bar, "accent", beat=3))
        edits.save()
        states.append(edits.edits)
    assert edits.undo()
    assert edits.edits == states[1]
    assert edits.undo()
    edits.save()
    assert edits.edits == states[0]
    assert not edits.undo()
    assert text_of(folder) == text_of(ROOT / "lessons" / "lamplighters-detour")
    assert edits.redo()
    assert edits.redo()
    assert not edits.redo()
    assert edits.edits == states[2]


def test_a_refused_edit_changes_nothing(edits):
    before = edits.edits, edits.head
    with pytest.raises(LevelError, match="no note starts"):
        edits.apply(edit(6, "early", beat=2))
    assert (edits.edits, edits.head) == before
    assert not edits.can_undo


def test_an_edit_that_a_later_one_rests_on_cannot_be_taken_out(edits):
    edits.apply(edit(1, "accent", beat=Fraction(9, 2)))
    early = edits.edits.index(edit(2, "early", by="eighth"))
    with pytest.raises(LevelError, match="a later edit rests on this one"):
        edits.take_out(early)
    edits.take_out(len(edits.edits) - 1)
    edits.take_out(early)
    assert edit(2, "early", by="eighth") not in edits.edits


def test_a_second_writer_is_refused_and_may_load_or_keep(folder, edits):
    other = LevelEdits(open_lesson(folder), "intermediate")
    other.apply(edit(6, "turn"))
    other.save()
    theirs = text_of(folder)
    edits.apply(edit(7, "accent", beat=3))
    with pytest.raises(ConflictError, match="changed on disk"):
        edits.save()
    assert text_of(folder) == theirs
    mine = edits.edits
    edits.load()
    assert edits.edits == other.edits
    assert edits.is_saved
    edits.undo()
    assert edits.edits == mine
    other.apply(edit(7, "tenuto", beat=3))
    other.save()
    edits.save(anyway=True)
    assert LevelEdits(open_lesson(folder), "intermediate").edits == mine


def test_a_level_in_notation_has_no_edits(folder):
    with pytest.raises(LevelError, match=r"written out in levels/advanced\.musicxml"):
        LevelEdits(open_lesson(folder), "advanced")


def test_an_unknown_level_is_told_with_the_nearest(folder):
    with pytest.raises(LessonError, match="did you mean intermediate"):
        LevelEdits(open_lesson(folder), "intermediat")


def test_a_level_that_plays_the_tune_gets_a_file_with_the_first_save(folder):
    edits = LevelEdits(open_lesson(folder), "beginner")
    edits.apply(edit(6, "accent"))
    edits.save()
    lesson = open_lesson(folder)
    assert lesson.level_file("beginner").edits == edits.edits
    assert (folder / "lesson.toml").read_text().startswith("# One lesson.")
    edits.apply(edit(7, "accent", beat=3))
    edits.save()
    assert len(open_lesson(folder).level_file("beginner").edits) == 2


def test_a_row_keeps_the_way_the_teacher_wrote_it(folder):
    path = folder / "levels" / "intermediate.toml"
    path.write_text(
        'edits = [\n  { do = "turn", bar = 6 }, # sing it\n]\n', encoding="utf-8"
    )
    edits = LevelEdits(open_lesson(folder), "intermediate")
    edits.apply(edit(7, "accent", beat=3))
    edits.save()
    assert '  { do = "turn", bar = 6 }, # sing it\n' in path.read_text()


def test_settings_of_others_changed_meanwhile_stay(folder):
    lesson = open_lesson(folder)
    route = SettingsEdits(lesson, "intermediate", ("route", "ending"))
    toml = folder / "lesson.toml"
    toml.write_text(toml.read_text().replace("tempo = 180", "tempo = 176"))
    route.change({"ending": "stop"})
    route.save()
    assert "tempo = 176" in toml.read_text()
    assert 'ending = "stop"' in toml.read_text()
    toml.write_text(toml.read_text().replace('ending = "stop"', 'ending = "ring"'))
    route.change({"ending": "ritardando"})
    with pytest.raises(ConflictError, match="ending has changed on disk"):
        route.save()
    route.load()
    assert route.values["ending"] == "ring"
    route.undo()
    route.save()
    assert 'ending = "ritardando"' in toml.read_text()
