"""How is the form shown: chart, and what a student should know of it?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from kit.figures._page import Asked, in_two_widths
from kit.figures.figure import Figure, draw, markup
from kit.figures.written import written
from kit.form.chart import form_chart_svg, form_chart_words
from kit.form.facts import form_facts
from kit.lesson.lesson import Lesson

__all__ = ["form_chart", "levels_beside", "on_page"]


def form_chart(
    lesson: Lesson,
    *,
    instrument: str | None = None,
    bars_per_line: int | None = None,
    level: str | None = None,
) -> Figure:
    """Draw the form of the lesson's tune, with its changes.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    instrument : str, optional
        In whose written key chords and keys are named; concert pitch if None.
    bars_per_line : int, optional
        How many bars stand side by side; a whole section if it fits where not given.
    level : str, optional
        Whose changes an instrument's chart has; the first level's if None.

    Raises
    ------
    LessonError
        If the lesson's files cannot be used or it has no such instrument or level.
    """
    if instrument is None:
        played, form, player = lesson.played, lesson.form, "concert pitch"
    else:
        part = written(lesson, level=level, instrument=instrument)
        played, form, player = part.played, part.form, part.player
    facts = form_facts(played, form)
    title = f"Form of {lesson.title}: {facts.name}"
    svg = form_chart_svg(played, form, show_changes=True, bars_per_row=bars_per_line)
    words = "\n".join((f"{title}.", form_chart_words(played, form), *facts.sentences))
    html = draw(
        "form_chart",
        title=title,
        where=f"{player}, in {played.key}",
        svg=markup(svg),
        sentences=facts.sentences,
    )
    return Figure(
        "form-chart", title, html, words, {"instrument": instrument} if instrument else {}
    )


def on_page(asked: Asked) -> str:
    """Draw it at two widths, with the changes of the first level that may be seen.

    The lesson's first may be members'.
    """
    draw = partial(
        form_chart, asked.lesson, instrument=asked.instrument, level=asked.among[0]
    )
    return in_two_widths(draw, desk=None, telephone=4)


def levels_beside(_options: Mapping[str, Any], among: Sequence[str]) -> Sequence[str]:
    """Give the level whose changes a page's chart has."""
    return among[:1]
