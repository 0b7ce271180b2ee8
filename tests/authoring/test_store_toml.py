"""One thing changes, the rest of the file stays byte for byte."""

import difflib
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.authoring._toml_edit import set_level_value, set_rows, set_sections, take_out
from kit.errors import LessonError

LESSON = """# My lesson.
title = "T" # the title
instruments = [
  "flute", # hers
]

[rights]
basis = "own work"

[[levels]]
name = "easy"
tempo = 100
route = [{ play = "head" }] # once

[[levels]]
name = "hard"
tempo = 160
route = [
  # twice
  { play = "head" },
  { play = "solo", sections = "AA" }, # open
]
# the end
"""


def changed(before, after):
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=0)
    return [f"{line[0]} {line[1:]}" for line in lines if line[:2] not in ("--", "++", "@@")]


def test_a_passage_changes_one_line():
    rows = [{"play": "head"}, {"play": "solo", "sections": "AB"}]
    after = set_level_value(LESSON, "hard", "route", rows, source="x")
    assert changed(LESSON, after) == [
        '-   { play = "solo", sections = "AA" }, # open',
        '+   { play = "solo", sections = "AB" },',
    ]


def test_a_row_that_stays_keeps_its_comment():
    rows = [{"play": "head"}, {"play": "head"}, {"play": "solo", "sections": "AA"}]
    after = set_level_value(LESSON, "hard", "route", rows, source="x")
    assert changed(LESSON, after) == ['+   { play = "head" },']


def test_a_list_in_one_line_becomes_one_row_a_line_and_nothing_else_moves():
    rows = [{"play": "head"}, {"play": "head", "tag": {"bars": 2, "times": 3}}]
    after = set_level_value(LESSON, "easy", "route", rows, source="x")
    assert tomllib.loads(after)["levels"][0]["route"] == rows
    assert "] # once" in after
    assert [line for line in changed(LESSON, after) if "route" not in line] == [
        '+   { play = "head" },',
        '+   { play = "head", tag = { bars = 2, times = 3 } },',
        "+ ] # once",
    ]


def test_a_plain_value_is_set_and_taken_out_again():
    after = set_level_value(LESSON, "easy", "ending", "stop", source="x")
    assert tomllib.loads(after)["levels"][0]["ending"] == "stop"
    assert set_level_value(after, "easy", "ending", None, source="x") == LESSON


def test_sections_are_set_before_the_first_table_and_taken_out_again():
    rows = [{"label": "A", "bars": "1-8"}]
    after = set_sections(LESSON, rows, source="x")
    listed = 'sections = [\n  { label = "A", bars = "1-8" },\n]\n'
    assert after == LESSON.replace("\n[rights]", f"{listed}\n[rights]")
    assert tomllib.loads(set_sections(after, [], source="x")) == tomllib.loads(LESSON)


def test_sections_written_as_tables_are_replaced():
    text = LESSON + '\n[[sections]]\nlabel = "A"\nbars = "1-16"\n'
    rows = [{"label": "A", "bars": "1-8"}, {"label": "B", "bars": "9-16"}]
    assert tomllib.loads(set_sections(text, rows, source="x"))["sections"] == rows


def test_a_file_with_other_line_ends_keeps_them():
    text = 'over = "easy"\r\nedits = [\r\n  { bar = 1, do = "fall" }, # one\r\n]\r\n'
    rows = [{"bar": 1, "do": "fall"}, {"bar": 2, "do": "fall"}]
    after = set_rows(text, "edits", rows, source="x")
    assert after.count("\n") == after.count("\r\n") == 5
    assert "# one\r\n" in after


def test_an_empty_file_gets_the_list():
    assert set_rows("", "edits", [{"bar": 1, "do": "fall"}], source="x") == (
        'edits = [\n  { bar = 1, do = "fall" },\n]\n'
    )


def test_signs_in_comments_do_not_confuse_the_lines():
    text = 'edits = [\n  { bar = 1, do = "fall" } # like } this, see [x]\n]\n'
    rows = [{"bar": 1, "do": "fall"}, {"bar": 2, "do": "fall"}]
    after = set_rows(text, "edits", rows, source="x")
    assert tomllib.loads(after)["edits"] == rows
    assert "# like } this, see [x]" in after


@pytest.mark.parametrize("text", ["title = ", "[[levels]\n", 'a = "\x01"'])
def test_a_file_that_is_not_toml_is_one_sentence(text):
    with pytest.raises(LessonError, match="not valid TOML"):
        set_rows(text, "edits", [], source="x.toml")


def test_an_unknown_level_is_told():
    with pytest.raises(LessonError, match='no level "expert"'):
        set_level_value(LESSON, "expert", "route", [], source="x.toml")


ROW = st.fixed_dictionaries(
    {"bar": st.integers(0, 99), "do": st.text(max_size=6)},
    optional={"to": st.text(max_size=4), "beat": st.sampled_from([1, 2.5, "2 1/3"])},
)


@settings(deadline=None, max_examples=60)
@given(st.lists(ROW, max_size=6), st.lists(ROW, max_size=6))
def test_any_list_can_become_any_other_and_comments_stay(before, after):
    text = set_rows("# top\nover = 1\n", "edits", before, source="x")
    text = text.replace("edits = [\n", "edits = [\n  # first\n", 1)
    done = set_rows(text, "edits", after, source="x")
    assert tomllib.loads(done) == {"over": 1, "edits": after}
    assert "# top" in done
    assert "# first" in done


def test_one_line_is_taken_out_with_its_comment_and_nothing_else():
    marked = LESSON.replace("\n", '\nchanges = "proposed" # a guess\n', 1)
    assert tomllib.loads(marked)["changes"] == "proposed"
    assert take_out(marked, "changes", source="x") == LESSON
    assert take_out(LESSON, "changes", source="x") == LESSON
