"""How is a figure of some kind drawn, in the notebook and on a page?

The kinds are those of `kit.lesson.figure_calls`. A figure's module lies in this room under
the name of its call and holds

``practice_plan(lesson, *, level, instrument, ...) -> Figure``
    the figure itself, under the module's own name;
``on_page(asked) -> str or None``, if a page shows something else
    its markup there, None for nothing; without it the figure as it is, for the reader's
    level and instrument;
``levels_beside(options, among) -> levels``, if a page draws it from more
    levels that it looks at beyond those its call names and the reader's own, so that a
    build knows when to draw it again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from types import ModuleType
from typing import Any

from kit.figures._page import Asked
from kit.figures.figure import Figure
from kit.lesson.figure_calls import FIGURES, FigureRow
from kit.lesson.lesson import Lesson

__all__ = ["drawing", "figure_row", "levels_beside", "page_html", "question"]

_ROWS = {row.kind: row for row in FIGURES}


def figure_row(kind: str) -> FigureRow:
    """Give the line of a kind in the table of figures.

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    return _ROWS[kind]


def drawing(kind: str) -> Callable[..., Figure]:
    """Give the function that draws a kind, by a lesson and parameters with their names."""
    draw: Callable[..., Figure] = getattr(_module(kind), figure_row(kind).name)
    return draw


def question(kind: str) -> str:
    """Give what a figure's module says of it, for whoever asks for help on the call."""
    return _module(kind).__doc__ or ""


def page_html(
    kind: str,
    lesson: Lesson,
    options: Mapping[str, Any],
    *,
    level: str,
    instrument: str,
    among: Sequence[str],
) -> str | None:
    """Draw a figure for a page; None where there is nothing to show.

    Parameters are those of `kit.figures._page.Asked`, `level` being the reader's.

    Raises
    ------
    LessonError
        If the call names something that the lesson does not have.
    """
    shown = options.get("level") or level
    asked = Asked(lesson, options, shown, instrument, among)
    special = getattr(_module(kind), "on_page", None)
    if special is not None:
        html: str | None = special(asked)
        return html
    said = {name: options[name] for name in figure_row(kind).parameters if name in options}
    reader = {"level": shown, "instrument": instrument}
    said |= {name: reader[name] for name in figure_row(kind).parameters if name in reader}
    return drawing(kind)(lesson, **said).html


def levels_beside(
    kind: str, options: Mapping[str, Any], among: Sequence[str]
) -> Sequence[str]:
    """Give the levels that a page draws a figure from, unless its call names them."""
    special = getattr(_module(kind), "levels_beside", None)
    beside: Sequence[str] = special(options, among) if special is not None else ()
    return beside


def _module(kind: str) -> ModuleType:
    return import_module(f"kit.figures.{figure_row(kind).name}")
