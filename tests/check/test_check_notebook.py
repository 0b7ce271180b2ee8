"""What check says of the notebook: tags, attached pictures, prose and calls."""

from __future__ import annotations

import inspect
import json

import pytest

import kit
from kit.check._calls import CALLS
from kit.check.lesson import check_lesson

TWO_LEVELS = """
[[levels]]
name = "advanced"
tempo = 140
feel = "straight-eighths"
"""
OPEN = ("code", "import kit\nlesson = kit.open_lesson()")
PNG = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJ"


def cell(kind, source, *tags, **more):
    made = {"cell_type": kind, "metadata": {"tags": list(tags)}, "source": source, **more}
    if kind == "code":
        made |= {"outputs": [], "execution_count": None}
    return made


@pytest.fixture
def told(make_lesson):
    """Give the errors and warnings that check tells of a notebook, its place taken off."""

    def look(*cells):
        cells = [one if isinstance(one, dict) else cell(*one) for one in cells]
        notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
        lesson = make_lesson(more=TWO_LEVELS, files={"lesson.ipynb": json.dumps(notebook)})
        found = [f for f in check_lesson(lesson.folder) if f.severity != "hint"]
        assert all(len(str(finding)) <= 500 for finding in found)
        return [str(f).replace("test-lesson/lesson.ipynb, ", "") for f in found]

    return look


@pytest.mark.parametrize("kind", ["markdown", "code", "raw"])
@pytest.mark.parametrize("tag", ["Members", " members ", "hidden", "Level:advanced"])
def test_a_tag_nobody_knows_is_an_error_with_its_cell(told, kind, tag):
    (error,) = told(("markdown", "Words."), cell(kind, "", tag))
    assert error.startswith(f'error: cell 2: the tag "{tag}" is not known')
    assert "did you mean " in error


def test_a_level_the_lesson_does_not_have_is_named_with_the_nearest(told):
    (error,) = told(("markdown", "Words.", "level:advnaced"))
    assert error.startswith(
        'error: cell 1: the tag "level:advnaced" names a level "advnaced", and the lesson '
        "has none; did you mean level:advanced?"
    )


def test_tags_of_the_kit_and_of_other_tools_are_fine(told):
    tags = ["level:advanced", "page-only", "parameters", "remove-cell", "raises-exception"]
    assert told(*(("markdown", "Words.", tag) for tag in tags)) == []


@pytest.mark.parametrize("tags", ["members", 3, None, {"a": 1}, [1], [None]])
def test_tags_of_a_wrong_type_are_an_error(told, tags):
    (error,) = told({**cell("markdown", "Words."), "metadata": {"tags": tags}})
    assert error.startswith("error: cell 1: ")
    assert "tag" in error


def test_a_picture_that_is_named_and_not_attached_is_told(told):
    found = told(
        cell(
            "markdown", "![a](attachment:a.png)", attachments={"a.png": {"image/png": PNG}}
        ),
        ("markdown", "![b](attachment:b.png)"),
        cell(
            "markdown",
            "![c](attachment:c.png)",
            attachments={"c.png": {"image/png": "Cg=="}},
        ),
    )
    assert found == [
        'warning: cell 2: the picture "b.png" is named here and not attached to the cell; '
        "attach it again, or take its name out.",
        'warning: cell 3: what is attached as "c.png" is not a picture; attach a PNG or '
        "JPEG picture.",
    ]


@pytest.mark.parametrize(
    ("prose", "what"),
    [
        ("An alto 🎷 solo", 'the sign "🎷" (saxophone, U+1F3B7) in the prose'),
        ("A bell\x07 rings", "the sign U+0007 in the prose"),
        ("x" * 200_001, "the prose has more than 200000 characters"),
    ],
)
def test_prose_that_cannot_be_printed_is_an_error_with_its_cell(told, prose, what):
    (error,) = told(("markdown", "Fine."), ("markdown", prose))
    assert error.startswith("error: cell 2: ")
    assert what in error


def test_what_never_reaches_paper_needs_no_font(told):
    assert (
        told(
            ("markdown", "A 🎷 on the screen", "page-only"),
            ("markdown", "A 🎷 for me", "hide"),
            ("markdown", "[address](https://example.org/🎷) <!-- 🎷 -->"),
            ("raw", "🎷"),
        )
        == []
    )


def test_the_table_of_calls_is_that_of_the_kit():
    functions = {name for name in kit.__all__ if callable(getattr(kit, name))}
    assert set(CALLS) == functions
    for name, (by_place, by_name) in CALLS.items():
        parameters = inspect.signature(getattr(kit, name)).parameters.values()
        kinds = {p.name: p.kind for p in parameters}
        assert by_place == tuple(
            n for n, k in kinds.items() if k == k.POSITIONAL_OR_KEYWORD
        )
        assert by_name == tuple(n for n, k in kinds.items() if k == k.KEYWORD_ONLY)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("kit.exerpt(lesson)", 'the kit has no function "exerpt"; did you mean excerpt?'),
        ("kit.excerpt()", "kit.excerpt is not told the lesson"),
        ("kit.excerpt('advanced')", "the first value of kit.excerpt is not a lesson"),
        (
            "kit.excerpt(lesson, levl='advanced')",
            'no parameter "levl"; did you mean level?',
        ),
        ("kit.excerpt(lesson, 'a', 'b', 'c', 'd', 'e')", "takes 5 values at most"),
        ("kit.excerpt(lesson, 'hard')", 'the lesson has no level "hard"'),
        ("kit.excerpt(lesson, level='advnaced')", "did you mean advanced?"),
        ("kit.comparison(lesson, upper='x')", 'the lesson has no level "x"'),
        ("kit.excerpt(lesson, instrument='flute')", 'the lesson has no instrument "flute"'),
        ("kit.excerpt(lesson, section='Q')", 'there is no section "Q"'),
        ("kit.excerpt(lesson, section='4-1')", 'there is no section "4-1"'),
        ("kit.excerpt(lesson, bars=(1, 99))", "there is no bar 99; choose from 1 to 4"),
        ("kit.excerpt(lesson, section='A', bars=(1, 2))", "names a section and bars"),
        ("kit.excerpt(lesson, key='H')", '"H" is not a key'),
        ("kit.player(lesson, mix='loud')", 'the lesson has no mix "loud"'),
        ("kit.preview(lesson, paper='a5')", 'the lesson has no paper "a5"'),
        ("kit.excerpt(lesson, size='huge')", 'the lesson has no size "huge"'),
        ("kit.excerpt(lesson, bars='1-2')", "bars are two whole numbers"),
        ("kit.excerpt(lesson, bars=(1,))", "bars are two whole numbers"),
        ("kit.excerpt(lesson, section=3)", 'there is no section "3"'),
        ("kit.open_lesson('..')", 'there is no lesson in ".."'),
        ("lesson.titel", 'a lesson has nothing called "titel"; did you mean title?'),
        ("import kit as k\nk.excerpt(lesson, level='x')", 'the lesson has no level "x"'),
        ("from kit import excerpt as e\ne(lesson, 'x')", 'the lesson has no level "x"'),
        ("from kit import exerpt", 'the kit has no function "exerpt"'),
        ("kit.excerpt(lesson", "line 1 is not Python"),
        ("x = 1\n  y = 2", "line 2 is not Python"),
        ("return 3", "line 1 is not Python"),
        ("x = '\0'", "is not Python"),
        ("(" * 5000, "is not Python"),
        (
            "kit.excerpt(leson)",
            '"leson" has no meaning yet in this cell; did you mean lesson?',
        ),
        ("later\n", '"later" has no meaning yet'),
        ("import no_such_module_here", 'there is no module "no_such_module_here"'),
    ],
)
def test_a_call_that_cannot_run_is_an_error_with_its_cell(told, code, said):
    (error,) = told(OPEN, ("markdown", "Words."), ("code", code), ("code", "later = 1"))
    assert error.startswith("error: cell 3: ")
    assert said in error


@pytest.mark.parametrize(
    "code",
    [
        "kit.excerpt(lesson, 'advanced', 'trumpet', 'A', 'G')",
        "kit.excerpt(lesson, section='1-2')",
        "kit.excerpt(lesson, bars=(2, 3), size='small')",
        "kit.excerpt(lesson, level=None)",
        "for name in lesson.level_names:\n    display(kit.excerpt(lesson, level=name))",
        "wish = {'level': 'nowhere'}\nkit.excerpt(lesson, **wish)",
        "kit.excerpt(*[lesson])",
        "%matplotlib inline\n!ls\nx = 3",
        "%%html\n<p>not Python</p>",
        "kit.excerpt?",
        "import asyncio\nawait asyncio.sleep(0)",
        "def play(what):\n    return later + what\nlambda q: q",
        "try:\n    import no_such_module_here\nexcept ImportError:\n    pass",
        "from math import *\nprint(pi, nothing_known_now)",
        "other = kit.open_lesson('.')\nother.settings.title",
        "lesson = 3\nlesson.real",
        "print(f'{lesson.title!r:>10}', [n for n in range(3)], __name__, _, Out)",
        "kit.lesson.open_lesson()",
        "",
    ],
)
def test_a_cell_that_can_run_is_let_run(told, code):
    assert told(OPEN, ("code", code), ("code", "later = 1")) == []


def test_a_cell_that_may_fail_or_is_not_run_is_not_looked_at(told):
    cells = [("code", "1 +", tag) for tag in ("raises-exception", "skip-execution")]
    cells += [("code", "later = nothing", "raises-exception"), ("code", "print(later)")]
    assert told(OPEN, *cells) == []


@pytest.mark.parametrize(
    ("magic", "is_told"),
    [
        ("%matplotlib inline", True),
        ("!ls", True),
        ("%time x = 3", True),
        ("kit.excerpt?", True),
        ("%run other.py", False),
        ("%time nothing_known = 3", False),
    ],
)
def test_a_name_is_told_unless_a_magic_may_have_bound_it(told, magic, is_told):
    found = told(OPEN, ("code", magic), ("code", "nothing_known"))
    assert bool(found) == is_told


def test_a_cell_whose_output_is_taken_away_has_to_run_all_the_same(told):
    (error,) = told(OPEN, ("code", "1 +", "remove-output"))
    assert error.startswith("error: cell 2: line 1 is not Python")


def test_a_notebook_without_its_first_cell_is_told(told):
    (first, second) = told(("code", "kit.excerpt(lesson)"))
    assert '"kit" has no meaning yet' in first + second
    assert '"lesson" has no meaning yet' in first + second


def test_sections_are_not_looked_for_in_a_level_that_cannot_be_made(make_lesson):
    code = "kit.excerpt(lesson, level='advanced', section='Q')"
    cells = [cell(*OPEN), cell("code", code), cell("markdown", "Words.", "Members")]
    notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    broken = TWO_LEVELS + 'notation = "levels/none.abc"\n'
    lesson = make_lesson(more=broken, files={"lesson.ipynb": json.dumps(notebook)})
    errors = [str(f) for f in check_lesson(lesson.folder) if f.severity == "error"]
    assert len(errors) == 2
    assert any("levels/none.abc" in error for error in errors)
    assert any("cell 3" in error for error in errors)


def test_a_broken_tune_does_not_hide_what_is_wrong_with_the_notebook(make_lesson):
    cells = [cell(*OPEN), cell("code", "kit.excerpt(lesson, section='Q')", "Members")]
    notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    files = {"lesson.ipynb": json.dumps(notebook), "tune.abc": "no music"}
    lesson = make_lesson(files=files)
    errors = [str(f) for f in check_lesson(lesson.folder) if f.severity == "error"]
    assert [e.partition(":")[2].partition(":")[0] for e in errors] == [
        " test-lesson/lesson.ipynb, cell 2",
        " test-lesson/tune.abc",
    ]


@pytest.mark.parametrize(
    ("code", "is_refused"),
    [
        ("kit.excerpt(lesson, key='A')", False),
        ("kit.excerpt(lesson, level='beginner', key='D minor')", False),
        ("kit.excerpt(lesson, level='advanced', key='D minor')", False),
        ("kit.excerpt(lesson, level='advanced', key='A major')", False),
        ("kit.excerpt(lesson, level='beginner', key='A major')", True),
        ("kit.excerpt(lesson, key='A major')", True),
    ],
)
def test_a_level_of_another_mode_is_drawn_in_its_own(make_lesson, code, is_refused):
    cells = [cell(*OPEN), cell("code", code)]
    notebook = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    lesson = make_lesson(
        "G2A2B2c2 | d4G4 | A2B2c2A2 | G8 |]",
        key="Gm",
        more=TWO_LEVELS + 'notation = "own.abc"\n',
        files={
            "lesson.ipynb": json.dumps(notebook),
            "own.abc": "X:1\nT:T\nM:4/4\nL:1/4\nK:F\nFGAB|c2F2|GABG|F4|]\n",
        },
    )
    errors = [str(f) for f in check_lesson(lesson.folder) if f.severity == "error"]
    assert bool(errors) == is_refused
    namespace = {"kit": kit, "lesson": lesson}
    run = code.replace("kit.excerpt", "drawn = kit.excerpt")
    if is_refused:
        assert "cannot be played in A major" in errors[0]
    else:
        exec(run, namespace)
        for name in lesson.level_names if "level=" not in code else ():
            asked = {"level": name, "instrument": lesson.settings.default_instrument}
            namespace["drawn"].figure(namespace["drawn"].chosen | asked)
