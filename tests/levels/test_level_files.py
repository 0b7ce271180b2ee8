"""Level files: read, written, refused."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.errors import LevelError
from kit.levels.edit import Edit
from kit.levels.file import LevelFile, read_level_file, write_level_file

TEXT = """over = "beginner"
edits = [
  { bar = 2, beat = 3, do = "early", by = "eighth" },
  { bar = 5, beat = 2.5, do = "grace", from = "below", step = "chromatic" },
  { bar = 14, beat = "2 1/3", do = "repeat", times = 3 },
]
"""


def test_a_level_file_is_read_and_written_unchanged():
    level = read_level_file(TEXT, "levels/x.toml")
    assert level.over == "beginner"
    assert [edit.beat for edit in level.edits] == [3, Fraction(5, 2), Fraction(7, 3)]
    assert write_level_file(level) == TEXT


def test_one_changed_edit_is_one_changed_line():
    level = read_level_file(TEXT)
    changed = LevelFile(level.over, (*level.edits[:1], Edit(5, Fraction(1), "accent")))
    old, new = TEXT.splitlines(), write_level_file(changed).splitlines()
    assert sum(line not in old for line in new) == 1


@given(
    bar=st.integers(0, 999),
    beat=st.fractions(1, 12, max_denominator=12),
    over=st.text(max_size=20),
    times=st.integers(2, 8),
)
def test_writing_and_reading_give_the_same(bar, beat, over, times):
    level = LevelFile(over, (Edit(bar, beat, "repeat", (("times", times),)),))
    assert read_level_file(write_level_file(level)) == level


def test_an_empty_file_is_a_level_without_edits():
    assert read_level_file("") == LevelFile()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("edits = [", "not valid TOML"),
        ("edit = []", 'it has "edit"; only over and edits belong here'),
        ("edits = 3", "edits a list"),
        ("over = 3", "name in quotes"),
        ("edits = [3]", "edit 1: it is not a table"),
        ('edits = [{ beat = 1, do = "early" }]', "edit 1: it names no bar"),
        ('edits = [{ bar = -1, do = "early" }]', "bar is -1"),
        ("edits = [{ bar = 1 }]", "bar 1: edit 1: it does not say what to do"),
        ('edits = [{ bar = 1, beat = "x", do = "early" }]', "beat is 'x'"),
        ('edits = [{ bar = 1, beat = 0, do = "early" }]', "beat is 0"),
        ('edits = [{ bar = 1, beat = nan, do = "early" }]', "beat is nan"),
        ('edits = [{ bar = 1, beat = inf, do = "early" }]', "beat is inf"),
        ('edits = [{ bar = 1, beat = "1 1/0", do = "early" }, 3]', "edit 2"),
        ('edits = [{ bar = 1, do = "early", by = true }]', "by is True"),
        ('edits = [{ bar = 1, do = "earlyy" }]', "did you mean"),
        ('edits = [{ bar = 1, do = "early" }, { bar = 2, do = "note" }]', "edit 2"),
    ],
)
def test_what_cannot_be_understood_is_one_sentence_with_the_file(text, message):
    with pytest.raises(LevelError, match=message) as caught:
        read_level_file(text, "levels/x.toml")
    assert str(caught.value).startswith("levels/x.toml")


def test_absurd_sizes_are_refused():
    with pytest.raises(LevelError, match="longer than"):
        read_level_file("#" * 1_000_001)
    rows = ",".join(['{bar=1,do="early"}'] * 5001)
    with pytest.raises(LevelError, match="more than 5000"):
        read_level_file(f"edits=[{rows}]")
    with pytest.raises(LevelError, match="64 deep in one another"):
        read_level_file("edits=" + "[" * 50_000)
