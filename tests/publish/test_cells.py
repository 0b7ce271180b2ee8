from __future__ import annotations

import base64
import io
from typing import Any

import pytest
from PIL import Image

from kit.errors import LessonError
from kit.publish.cells import (
    FIGURE_MIME,
    LessonCell,
    cells_for_handout,
    cells_for_page,
    has_run,
    read_cells,
    withheld_cells,
)


def notebook(*cells: dict[str, Any]) -> dict[str, Any]:
    return {"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": list(cells)}


def prose(text: str | list[str], *tags: str) -> dict[str, Any]:
    return {"cell_type": "markdown", "metadata": {"tags": list(tags)}, "source": text}


def code(*outputs: dict[str, Any], tags: tuple[str, ...] = ()) -> dict[str, Any]:
    return {
        "cell_type": "code", "metadata": {"tags": list(tags)}, "source": "kit.x(lesson)",
        "outputs": list(outputs), "execution_count": 1,
    }  # fmt: skip


def figure(show: str, **options: Any) -> dict[str, Any]:
    data = {"version": 1, "show": show, **options}
    return {"output_type": "display_data", "metadata": {}, "data": {FIGURE_MIME: data}}


LEVELS = ("beginner", "advanced")


def read(*cells: dict[str, Any]) -> tuple[LessonCell, ...]:
    return read_cells(notebook(*cells), levels=LEVELS)


def names(cells: Any) -> list[str]:
    return [cell.prose or cell.figures[0].show for cell in cells]


def test_a_cell_that_shows_nothing_is_left_out():
    assert names(read(code(), prose("Hello"), prose("  "))) == ["Hello"]


def test_source_may_be_stored_line_by_line():
    (cell,) = read(prose(["Play ", "it.\n", "Again."]))
    assert cell.prose == "Play it.\nAgain."


def test_a_figure_is_read_as_data_not_as_html():
    shown = figure("excerpt", level="beginner", section="A")
    shown["data"]["text/html"] = "<p>old drawing</p>"
    (cell,) = read(code(shown))
    assert cell.figures[0].show == "excerpt"
    assert dict(cell.figures[0].options) == {"level": "beginner", "section": "A"}


def test_a_failed_cell_is_named_with_its_number():
    failed = {"output_type": "error", "ename": "NameError", "evalue": "no", "traceback": []}
    with pytest.raises(LessonError, match="cell 2: the cell stopped with NameError"):
        read(prose("a"), code(failed))


@pytest.mark.parametrize("data", ["text", {"version": 9, "show": "x"}, {"version": 1}])
def test_damaged_figure_data_are_an_error(data: Any):
    output = {"output_type": "display_data", "metadata": {}, "data": {FIGURE_MIME: data}}
    with pytest.raises(LessonError, match="cell 1"):
        read(code(output))


def test_a_notebook_whose_cells_never_ran_is_recognised():
    fresh = {**code(), "execution_count": None}
    assert not has_run(notebook(prose("a"), fresh))
    assert has_run(notebook(prose("a"), code(figure("form-chart"))))
    assert has_run(notebook(prose("a")))


def test_a_handout_has_its_own_levels_cells_and_those_of_all_levels():
    cells = read(
        prose("all"),
        prose("first", "level:beginner"),
        prose("both", "level:beginner", "level:advanced"),
        prose("last", "level:advanced"),
        prose("screen", "page-only"),
        prose("paper", "handout-only"),
        prose("paid", "members"),
        prose("never", "hide"),
    )
    for_members = cells_for_handout(
        cells, level="beginner", free=False, free_levels=["beginner"]
    )
    assert names(for_members) == ["all", "first", "both", "paper", "paid"]
    for_all = cells_for_handout(
        cells, level="beginner", free=True, free_levels=["beginner"]
    )
    assert names(for_all) == ["all", "first", "paper"]


def test_the_members_page_has_all_but_hidden_and_handout_cells():
    cells = read(
        prose("a"),
        prose("b", "handout-only"),
        prose("c", "hide"),
        prose("d", "members"),
    )
    assert names(cells_for_page(cells, audience="members", free_levels=["x"])) == ["a", "d"]


def test_the_public_page_has_nothing_of_a_level_that_is_not_free():
    cells = read(
        prose("open"),
        prose("secret", "members"),
        prose("higher", "level:advanced"),
        prose("mixed", "level:beginner", "level:advanced"),
        prose("low", "level:beginner"),
        code(figure("excerpt", level="advanced")),
        code(figure("comparison", lower="beginner", upper="advanced")),
        code(figure("form-chart"), figure("excerpt", level="advanced")),
    )
    chosen = cells_for_page(cells, audience="public", free_levels=["beginner"])
    assert names(chosen) == ["open", "low", "form-chart"]
    assert [call.show for call in chosen[-1].figures] == ["form-chart"]


def shown(mime: str, content: Any, **about: Any) -> dict[str, Any]:
    return {
        "output_type": "display_data", "metadata": {mime: about}, "data": {mime: content},
    }  # fmt: skip


def dot(form: str = "PNG") -> str:
    packed = io.BytesIO()
    Image.new("RGB", (3, 2), "teal").save(packed, form)
    return base64.encodebytes(packed.getvalue()).decode()


def test_a_picture_is_read_with_its_words():
    lines = dot().splitlines(keepends=True)
    (cell,) = read(code(shown("image/png", lines, alt="a\nteal dot")))
    (picture,) = cell.pictures
    assert (picture.shown.width, picture.shown.height, picture.alt) == (3, 2, "a teal dot")


@pytest.mark.parametrize(
    ("mime", "content", "words"),
    [
        ("image/png", dot("JPEG"), "the picture is JPEG, not PNG"),
        ("image/jpeg", dot(), "the picture is PNG, not JPEG"),
        ("image/png", "%%%", "not written in base64"),
        ("image/png", 7, "holds no picture"),
        ("image/png", [None], "holds no picture"),
        ("image/jpeg", {"a": 1}, "holds no picture"),
    ],
)
def test_what_is_no_picture_is_named_with_its_cell(mime: str, content: Any, words: str):
    with pytest.raises(LessonError, match=rf"^lesson\.ipynb, cell 2: .*{words}"):
        read(prose("a"), code(shown(mime, content)))


@pytest.mark.parametrize(
    "mime", ["image/svg+xml", "image/gif", "image/webp", "text/html", "application/pdf"]
)
def test_outputs_of_other_kinds_show_nothing(mime: str):
    assert read(code(shown(mime, "<svg onload='alert(1)'/>"))) == ()


def test_a_hundred_pictures_are_read_and_one_more_is_not():
    cells = [code(*[shown("image/png", dot())] * 50)] * 2
    assert len(read(*cells)) == 2
    with pytest.raises(LessonError, match="cell 3: the notebook shows more than 100 pict"):
        read(*cells, code(shown("image/png", dot())))


def public(*cells: dict[str, Any]) -> list[str]:
    """What strangers see of cells: on the page and in the free level's handout."""
    chosen = read(*cells)
    page = cells_for_page(chosen, audience="public", free_levels=["beginner"])
    paper = cells_for_handout(chosen, level="beginner", free=True, free_levels=["beginner"])
    return [*names(page), *names(paper)]


UNKNOWN = (
    "member",
    "Members",
    "MEMBERS",
    " members ",
    "members-only",
    "members\u200b",
    "m\u0435mbers",
    "hidden",
    "Hide",
    "page_only",
    "Level:beginner",
    "level:advnaced",
    "level:",
    "free",
    "",
)


@pytest.mark.parametrize("tag", UNKNOWN)
def test_a_cell_with_a_tag_nobody_knows_stays_out_of_everything(tag: str):
    cells = (prose("secret", tag), code(figure("form-chart"), tags=(tag,)))
    assert public(*cells) == []
    assert public(prose("secret", "level:beginner", tag)) == []
    members = cells_for_page(read(*cells), audience="members", free_levels=["beginner"])
    assert members == ()
    (first, _) = withheld_cells(notebook(*cells), LEVELS)
    assert first.startswith("cell 1 is left out: the tag ")


@pytest.mark.parametrize(
    "tags", ["members", 3, None, {"members": True}, [["members"]], [1]]
)
def test_a_cell_whose_tags_are_no_list_of_texts_stays_out_of_everything(tags: Any):
    cell = {"cell_type": "markdown", "metadata": {"tags": tags}, "source": "secret"}
    assert public(cell) == []
    assert withheld_cells(notebook(cell), LEVELS)


def test_what_a_tag_of_another_tool_takes_away_is_not_published():
    shown = code(figure("form-chart"), tags=("hide-output",))
    assert public(prose("a", "remove-cell"), prose("b", "hide-cell"), shown) == []
    assert public(prose("a", "remove_input"), prose("b", "hide-output")) == []
    assert public(code(figure("form-chart"), tags=("skip-execution",))) == []


def test_a_tag_of_another_tool_that_takes_nothing_away_changes_nothing():
    assert public(prose("a", "parameters")) == ["a", "a"]
    assert public(code(figure("form-chart"), tags=("hide-input",)))[0] == "form-chart"


def test_a_cell_that_may_fail_shows_what_came_before_and_nothing_of_its_error():
    failed = {"output_type": "error", "ename": "NameError", "evalue": "no", "traceback": []}
    cell = code(figure("form-chart"), failed, tags=("raises-exception",))
    assert names(read(cell)) == ["form-chart"]


def test_page_and_paper_agree_on_a_cell_of_a_free_and_a_members_level():
    assert public(prose("both", "level:beginner", "level:advanced")) == []
    free = ["beginner", "advanced"]
    cells = read(prose("both", "level:beginner", "level:advanced"))
    for level in free:
        paper = cells_for_handout(cells, level=level, free=True, free_levels=free)
        assert names(paper) == ["both"]


def test_raw_cells_attachments_and_printed_text_are_never_published():
    raw = {"cell_type": "raw", "metadata": {}, "source": "secret"}
    attached = {
        **prose("![a drawing](attachment:a.png)"),
        "attachments": {"a.png": {"image/png": "c2VjcmV0"}},
    }
    printed = code(
        {"output_type": "stream", "name": "stdout", "text": "secret"},
        {
            "output_type": "display_data",
            "metadata": {},
            "data": {"text/html": "<p>secret</p>", "text/plain": "secret"},
        },
    )
    cells = read(raw, attached, printed)
    assert names(cells) == ["![a drawing](attachment:a.png)"]
    assert cells[0].pictures == ()


@pytest.mark.parametrize("level", [["advanced"], 3, {"name": "advanced"}])
def test_a_figure_whose_level_cannot_be_read_is_an_error(level: Any):
    with pytest.raises(LessonError, match="cell 1: the figure's"):
        read(code(figure("excerpt", level=level)))
