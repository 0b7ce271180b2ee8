"""How is a figure of the notebook drawn again for one level and instrument?

The options of the notebook's call say what stays as it is; what they leave open (the level,
the instrument) follows the reader's choice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from kit.errors import LessonError
from kit.figures import (
    Figure,
    comparison,
    excerpt,
    form_chart,
    player,
    practice_plan,
    solo_guide,
)
from kit.lesson import Lesson
from kit.publish.cells import FigureCall

__all__ = ["draw_figure"]


def draw_figure(
    lesson: Lesson, call: FigureCall, *, level: str, instrument: str, among: Sequence[str]
) -> str | None:
    """Draw a figure as HTML.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    call : FigureCall
        What the notebook shows.
    level, instrument : str
        What the reader has chosen.
    among : sequence of str
        The levels that may be shown at all.

    Returns
    -------
    str or None
        A fragment, or None where there is nothing to show: a comparison with a level below
        the first.

    Raises
    ------
    LessonError
        If the call names something the lesson does not have, or is of an unknown kind.
    """
    if call.show not in _DRAWERS:
        raise LessonError(
            f'the notebook shows a figure "{call.show}" that this kit does not know',
            file=lesson.name_of("lesson.ipynb"),
            remedy="run the notebook again with this version of the kit",
        )
    shown = call.options.get("level") or level
    figure = _DRAWERS[call.show](lesson, call.options, shown, instrument, among)
    return None if figure is None else figure.html


def _form_chart(
    lesson: Lesson, _options: Any, _level: str, instrument: str, _among: Sequence[str]
) -> Figure:
    return form_chart(lesson, instrument=instrument)


def _excerpt(
    lesson: Lesson, options: Any, level: str, instrument: str, _among: Sequence[str]
) -> Figure:
    bars = options.get("bars")
    return excerpt(
        lesson,
        level=level,
        instrument=instrument,
        section=options.get("section"),
        bars=None if bars is None else (int(bars[0]), int(bars[1])),
        bars_per_line=int(options.get("bars_per_line") or 4),
    )


def _player(
    lesson: Lesson, options: Any, level: str, _instrument: str, _among: Sequence[str]
) -> Figure:
    return player(lesson, level=level, mix=options.get("mix") or "demo")


def _comparison(
    lesson: Lesson, options: Any, level: str, instrument: str, among: Sequence[str]
) -> Figure | None:
    upper = options.get("upper") or level
    place = among.index(upper) if upper in among else 0
    lower = options.get("lower") or (among[place - 1] if place > 0 else None)
    if lower is None or lower == upper:
        return None
    return comparison(lesson, lower=lower, upper=upper, instrument=instrument)


def _solo_guide(
    lesson: Lesson, _options: Any, level: str, instrument: str, _among: Sequence[str]
) -> Figure:
    return solo_guide(lesson, level=level, instrument=instrument)


def _practice_plan(
    lesson: Lesson, _options: Any, level: str, instrument: str, _among: Sequence[str]
) -> Figure:
    return practice_plan(lesson, level=level, instrument=instrument)


_Drawer = Callable[[Lesson, Any, str, str, Sequence[str]], Figure | None]
_DRAWERS: dict[str, _Drawer] = {
    "form-chart": _form_chart,
    "excerpt": _excerpt,
    "player": _player,
    "comparison": _comparison,
    "solo-guide": _solo_guide,
    "practice-plan": _practice_plan,
}
