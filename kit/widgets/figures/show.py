"""The one-line calls of a lesson notebook, made from the table of figures.

Each call gives a widget that shows itself. Its signature and its help follow from the
figure's line in `kit.lesson.figure_calls` and from the figure's own module.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from inspect import Parameter, Signature, cleandoc
from typing import Any

from kit.figures.by_kind import question
from kit.lesson.figure_calls import FIGURES, PARAMETERS, FigureRow
from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.widgets.figures._figure_view import FigureView
from kit.widgets.figures._player import PlayerView
from kit.widgets.figures._views import ExcerptView, FormChartView, ProblemsView

__all__ = ["figure_call"]

_LIVE: Mapping[str, type[FigureView]] = {
    "form-chart": FormChartView,
    "excerpt": ExcerptView,
    "player": PlayerView,
    "problems": ProblemsView,
}
"""The figures that do more in the notebook than to be drawn for what is chosen."""


def figure_call(name: str) -> Callable[..., FigureView]:
    """Make the call of a figure: ``practice_plan(lesson, level=None, instrument=None)``.

    Raises
    ------
    KeyError
        If there is no figure of that name.
    """
    row = {row.name: row for row in FIGURES}[name]
    view = _LIVE.get(row.kind, FigureView)
    signature = _signature(row, view)

    def call(*args: Any, **kwargs: Any) -> FigureView:
        try:
            given = dict(signature.bind(*args, **kwargs).arguments)
        except TypeError as error:
            raise TypeError(f"{name}(): {error}") from None
        lesson = given.pop("lesson")
        return view(row.kind, lesson, _said(lesson, row, given))

    call.__name__ = call.__qualname__ = name
    call.__module__ = "kit"
    call.__doc__ = _help(row)
    vars(call)["__signature__"] = signature
    return call


def _signature(row: FigureRow, view: type[FigureView]) -> Signature:
    by_place, by_name = Parameter.POSITIONAL_OR_KEYWORD, Parameter.KEYWORD_ONLY
    said = [
        Parameter(
            name,
            by_place if name in row.by_place else by_name,
            default=None,
            annotation=f"{PARAMETERS[name].type} | None",
        )
        for name in row.parameters
    ]
    lesson = Parameter("lesson", by_place, annotation="Lesson")
    return Signature([lesson, *said], return_annotation=view.__name__)


def _help(row: FigureRow) -> str:
    lines = [
        cleandoc(question(row.kind)),
        "",
        "Parameters",
        "----------",
        "lesson : Lesson",
        "    An open lesson.",
    ]
    for name in row.parameters:
        kind, words = PARAMETERS[name]
        lines += [f"{name} : {kind}, optional", f"    {words}"]
    return "\n".join((*lines, ""))


def _said(lesson: Lesson, row: FigureRow, given: Mapping[str, Any]) -> dict[str, Any]:
    """Give what the call says by the names of the choosers, the instrument first."""
    said = {name: given.get(name) for name in row.parameters}
    bars = said.pop("bars", None)
    if bars:
        if said["section"]:
            raise ValueError("ask for a section or for bars, not for both")
        said["section"] = f"{bars[0]}-{bars[1]}"
    if "key" in said:
        # As the chooser names it, in the level's mode; None is its own.
        level = said.get("level") or lesson.level_names[0]
        key = practice_key(lesson, said["key"], level=level)
        said["key"] = key.name if key else None
    first = ("instrument",) if "instrument" in said else ()
    return {name: said[name] for name in (*first, *said)}
