from __future__ import annotations

import pytest

from kit.lesson.cell_tags import known_tags, read_tags

LEVELS = ("beginner", "advanced")
MEANT = {
    # case, white space, what cannot be seen
    "Members": "members",
    "HIDE": "hide",
    " members ": "members",
    "page-only\n": "page-only",
    "mem\u200bbers": "members",
    "\ufeffhide": "hide",
    "mem\u00adbers": "members",
    # hyphens of other kinds, or none
    "page_only": "page-only",
    "pageonly": "page-only",
    "handout\u2010only": "handout-only",
    "handout\u2013only": "handout-only",
    "Remove-Cell": "remove-cell",
    # one and many
    "member": "members",
    "hides": "hide",
    "levels:advanced": "level:advanced",
    # signs that look like others
    "m\u0435mb\u0435rs": "members",
    "\uff4d\uff45\uff4dbers": "members",
    "h\u0456d\u0435": "hide",
    "level:\u0430dv\u0430nced": "level:advanced",
    # slips of the pen
    "hidden": "hide",
    "mebmers": "members",
    "members-only": "members",
    "Level:Beginner": "level:beginner",
    "level: advanced": "level:advanced",
    "level:advnaced": "level:advanced",
    "raise-exception": "raises-exception",
    "injected_parameters": "injected-parameters",
}


@pytest.mark.parametrize("tag", MEANT)
def test_a_tag_that_is_not_known_names_the_one_that_was_meant(tag: str):
    said = read_tags([tag], LEVELS)
    assert said.own == said.takes == frozenset()
    assert [problem.remedy for problem in said.problems] == [f"did you mean {MEANT[tag]}?"]


@pytest.mark.parametrize("tag", ["free", "", "x" * 10_000, "level:", "\u0e01\u0e02"])
def test_a_tag_near_to_none_is_told_with_the_choices(tag: str):
    (problem,) = read_tags([tag], LEVELS).problems
    assert problem.remedy.startswith("choose from ")
    assert "level:advanced" in problem.remedy
    assert len(problem.found) + len(problem.remedy) < 400


@pytest.mark.parametrize("tag", known_tags())
def test_every_known_tag_is_known_to_itself(tag: str):
    assert read_tags([tag], LEVELS).problems == ()


def test_a_level_tag_is_known_if_the_lesson_has_the_level():
    assert read_tags(["level:advanced"], LEVELS).own == {"level:advanced"}
    (problem,) = read_tags(["level:advanced"], ("beginner",)).problems
    assert problem.found == (
        'the tag "level:advanced" names a level "advanced", and the lesson has none'
    )


def test_a_sign_that_only_looks_right_is_named():
    (problem,) = read_tags(["m\u0435mbers"], LEVELS).problems
    assert "cyrillic small letter ie" in problem.found
    (problem,) = read_tags(["hide "], LEVELS).problems
    assert "white space" in problem.found


def test_no_sign_that_steers_a_terminal_comes_through_in_a_message():
    (problem,) = read_tags(["\x1b[31mred\u202e"], LEVELS).problems
    assert problem.found.isprintable()


@pytest.mark.parametrize(
    ("tags", "what"),
    [
        ("members", "a text, not a list"),
        (3, "a number, not a list"),
        (None, "null, not a list"),
        ({"members": 1}, "a table, not a list"),
        ([None], "null, not a text"),
        ([["members"]], "a list, not a text"),
    ],
)
def test_tags_of_the_wrong_type_are_told(tags: object, what: str):
    said = read_tags(tags, LEVELS)
    assert what in said.problems[0].found
    assert said.own == frozenset()


def test_what_the_tags_of_other_tools_take_away():
    said = read_tags(["parameters", "hide-input", "remove_output", "hide-cell"], LEVELS)
    assert said.takes == {"input", "output", "cell"}
    assert said.problems == ()
