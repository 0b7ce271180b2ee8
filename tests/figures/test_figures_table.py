"""One line of the table, one module, one template: that is a figure."""

import builtins
import inspect
from importlib.resources import files

import pytest

from kit.figures.by_kind import drawing, levels_beside, page_html, question
from kit.lesson.figure_calls import FIGURES, PARAMETERS

BY_KIND = {row.kind: row for row in FIGURES}
DRAWN_BY = {"size": "bars_per_line"}
"""What the drawing function calls otherwise than the notebook's call."""


@pytest.mark.parametrize("row", FIGURES, ids=lambda row: row.kind)
def test_a_figure_has_a_module_a_template_and_a_function_for_its_parameters(row):
    taken = inspect.signature(drawing(row.kind)).parameters
    wanted = {DRAWN_BY.get(name, name) for name in row.parameters}
    assert wanted <= set(taken)
    assert all(taken[name].kind is inspect.Parameter.KEYWORD_ONLY for name in wanted)
    assert len(question(row.kind)) > 20
    assert files("kit.figures").joinpath(f"templates/{row.name}.html.j2").is_file()
    assert set(row.parameters) <= set(PARAMETERS)


def test_no_call_of_a_figure_hides_a_function_of_python():
    """Whoever writes ``from kit import *`` still has them all."""
    assert not {row.name for row in FIGURES} & set(dir(builtins))


@pytest.mark.parametrize("row", FIGURES, ids=lambda row: row.kind)
def test_a_page_can_draw_a_figure_whose_call_leaves_everything_open(small, row):
    who = {"instrument": "alto-sax", "among": small.level_names}
    drawn = page_html(row.kind, small, {}, level="intermediate", **who)
    # The whole sheet stands on the page anyway, and problems are the teacher's.
    assert (drawn is None) == (row.kind in {"excerpt", "problems"})


def test_a_page_draws_a_figure_as_it_is_for_the_reader_unless_its_module_says_more(small):
    part = {"level": "intermediate", "instrument": "alto-sax"}
    shown = page_html("practice-plan", small, {}, **part, among=small.level_names)
    assert shown == drawing("practice-plan")(small, **part).html


def test_a_level_that_the_call_names_stays_whatever_the_reader_chooses(small):
    part = {"level": "intermediate", "instrument": "alto-sax"}
    said = {"level": "beginner"}
    shown = page_html("practice-plan", small, said, **part, among=small.level_names)
    assert shown == drawing("practice-plan")(small, **{**part, **said}).html


def test_a_build_knows_of_the_levels_that_a_page_looks_at_besides():
    among = ("low", "middle", "high")
    assert levels_beside("form-chart", {}, among) == ("low",)
    assert levels_beside("comparison", {"upper": "high"}, among) == among
    assert levels_beside("comparison", {"lower": "low", "upper": "high"}, among) == ()
    assert levels_beside("solo-guide", {}, among) == ()


def test_a_kind_that_is_not_in_the_table_is_no_figure():
    with pytest.raises(KeyError, match="poster"):
        drawing("poster")
