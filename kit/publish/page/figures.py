"""How is a figure of the notebook drawn again for one level and instrument?

The options of the notebook's call say what stays as it is; what they leave open (the level,
the instrument) follows the reader's choice.
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.errors import LessonError
from kit.figures.by_kind import page_html
from kit.figures.figure import KINDS
from kit.lesson.lesson import Lesson
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
        the first, the whole sheet, which the page shows anyway, or what is for the teacher.

    Raises
    ------
    LessonError
        If the call names something the lesson does not have, or is of an unknown kind.
    """
    if call.show not in KINDS:
        raise LessonError(
            f'the notebook shows a figure "{call.show}" that this kit does not know',
            file=lesson.name_of("lesson.ipynb"),
            remedy="run the notebook again with this version of the kit",
        )
    return page_html(
        call.show, lesson, call.options, level=level, instrument=instrument, among=among
    )
