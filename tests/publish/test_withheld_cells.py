"""What a slip of the pen in a tag must not give away, by whatever way it is exported."""

from __future__ import annotations

import io
import logging
from typing import Any

import nbformat
import pypdf
import pytest

from kit.publish.handout.exporter import HandoutExporter
from kit.publish.page.exporter import PageExporter

SLIPS = (
    "Members",
    "member",
    " members ",
    "m\u0435mbers",
    "hidden",
    "level:haard",
    "Level:hard",
)
OTHER_TOOLS = ("remove-cell", "hide_cell")


def _prose(text: str, *tags: str) -> dict[str, Any]:
    return {
        "cell_type": "markdown",
        "id": f"c{abs(hash(text))}",
        "metadata": {"tags": list(tags)},
        "source": text,
    }


def _notebook(*tags: str) -> Any:
    cells = [
        _prose("## In the open\n\nEverybody reads this."),
        *(
            _prose(f"## Marmalade\n\nQuince jelly number {place}.", tag)
            for place, tag in enumerate(tags)
        ),
        _prose("## Bergamot\n\nPlum cake.", "level:easy", "level:hard"),
    ]
    data = {"cells": cells, "metadata": {}, "nbformat": 4, "nbformat_minor": 5}
    return nbformat.from_dict(data)


def _exported(exporter: Any, lesson: Any, notebook: Any) -> str:
    resources = {"metadata": {"name": lesson.slug, "path": str(lesson.folder)}}
    output, _ = exporter.from_notebook_node(notebook, resources)
    if isinstance(output, str):
        return output
    pages = pypdf.PdfReader(io.BytesIO(output)).pages
    outline = str(pypdf.PdfReader(io.BytesIO(output)).outline)
    return "\n".join([outline, *(page.extract_text() for page in pages)])


@pytest.fixture(params=["public page", "members' page", "free handout"])
def exporter(request) -> Any:
    if request.param == "free handout":
        return HandoutExporter(level="easy", instrument="flute")
    audience = "public" if request.param == "public page" else "members"
    return PageExporter(audience=audience)


def test_an_exporter_leaves_out_what_it_does_not_understand_and_says_so(
    exporter, lesson, caplog, monkeypatch
):
    monkeypatch.setattr(exporter, "log", logging.getLogger("exporter"))
    with caplog.at_level(logging.WARNING):
        made = _exported(exporter, lesson, _notebook(*SLIPS, *OTHER_TOOLS))
    assert "Everybody reads this" in made
    assert "Marmalade" not in made
    assert "Quince" not in made
    told = [
        record.getMessage()
        for record in caplog.records
        if "left out" in record.msg % record.args
    ]
    assert len(told) == len(SLIPS)
    assert told[0].startswith("fish/lesson.ipynb: cell 2 is left out: ")


def test_strangers_see_the_cell_of_two_levels_neither_on_the_page_nor_on_paper(
    exporter, lesson
):
    made = _exported(exporter, lesson, _notebook())
    is_members = getattr(exporter, "audience", "public") == "members"
    assert ("Plum cake" in made) == is_members
    assert ("Bergamot" in made) == is_members
