"""The notebook of a new lesson: words computed from the music, and one-line calls.

The words come from a template in which ``%% markdown`` and ``%% code`` lines begin the
cells. A title from a file of unknown origin is text and nothing else: what Markdown or HTML
would take for markup is escaped.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from typing import Any

import jinja2

from kit.authoring._start_levels import StartLevel
from kit.authoring._start_words import (
    changes_words,
    form_words,
    practice_words,
    setting_words,
    solo_words,
)
from kit.authoring.first_look import FirstLook

__all__ = ["notebook_from", "start_notebook", "template"]

_CELLS = re.compile(r"^%% ", re.MULTILINE)
_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_MARKUP = re.compile(r"([\\`*_{}\[\]()#+!|<>~$&-])")


def template(name: str) -> jinja2.Template:
    """Give a template of a new lesson's files; texts stay on their line."""
    return _environment().get_template(name)


def start_notebook(look: FirstLook, levels: Sequence[StartLevel]) -> dict[str, Any]:
    """Write the notebook, as nbformat 4.5 data.

    Parameters
    ----------
    look : FirstLook
        The tune.
    levels : sequence of StartLevel
        In order.
    """
    by_name: dict[str, StartLevel] = {level.name: level for level in levels}
    rows = [
        (level, changes_words(by_name[level.below], level) if level.below else "")
        for level in levels
    ]
    return notebook_from(
        "starter.md.j2",
        title=look.title,
        composer=look.tune.composer,
        form=form_words(look),
        levels=rows,
        takes_solo=levels[0].takes_solo,
        solo=solo_words(look) if levels[0].takes_solo else setting_words(levels[0]),
        practice=practice_words(look, levels[0]),
    )


def notebook_from(name: str, **values: object) -> dict[str, Any]:
    """Fill a template of cells and give it as nbformat 4.5 data."""
    text = template(name).render(**values)
    blocks = _CELLS.split(text)[1:]
    return {
        "cells": [_cell(number, block) for number, block in enumerate(blocks)],
        "metadata": {
            "kernelspec": {
                "display_name": "Python 3",
                "language": "python",
                "name": "python3",
            },
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def _cell(number: int, block: str) -> dict[str, Any]:
    head, _, body = block.partition("\n")
    kind, *tags = head.split()
    cell: dict[str, Any] = {
        "cell_type": kind,
        "id": f"cell-{number:02}",
        "metadata": {"tags": tags} if tags else {},
        "source": body.strip().splitlines(keepends=True),
    }
    return cell | ({"execution_count": None, "outputs": []} if kind == "code" else {})


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("kit.authoring", "templates"),
        autoescape=False,  # noqa: S701 - TOML and Markdown, escaped by the filters below
        undefined=jinja2.StrictUndefined,
        finalize=_one_line,
    )
    environment.filters["toml"] = lambda text: json.dumps(
        _one_line(text), ensure_ascii=False
    )
    environment.filters["markdown"] = lambda text: _MARKUP.sub(
        r"\\\1", str(_one_line(text))
    )
    return environment


def _one_line(value: object) -> object:
    """Keep a text from a notation file on its line: it may not start a cell or a table."""
    return " ".join(_CONTROLS.sub(" ", value).split()) if isinstance(value, str) else value
