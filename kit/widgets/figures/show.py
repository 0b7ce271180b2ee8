"""The one-line calls of a lesson notebook: each gives a widget that shows itself."""

from __future__ import annotations

from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.widgets.figures._player import PlayerView
from kit.widgets.figures._views import (
    ComparisonView,
    ExcerptView,
    FormChartView,
    PracticePlanView,
    ProblemsView,
    SoloGuideView,
)

__all__ = [
    "comparison",
    "excerpt",
    "form_chart",
    "player",
    "practice_plan",
    "problems",
    "solo_guide",
]


def form_chart(lesson: Lesson, instrument: str | None = None) -> FormChartView:
    """Show the form and what to know about it."""
    return FormChartView(lesson, {"instrument": instrument})


def excerpt(
    lesson: Lesson,
    level: str | None = None,
    instrument: str | None = None,
    section: str | None = None,
    key: str | None = None,
    *,
    bars: tuple[int, int] | None = None,
    size: str | None = None,
) -> ExcerptView:
    """Show bars of a level in an instrument's key, with what there is to look at in them.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str, optional
        First choice; the lesson's first level and default instrument if left out.
    section : str, optional
        ``A`` for the first A section, ``A2`` for the second, ``head``, ``solo``; all if
        left out.
    key : str, optional
        Another concert key to practise in, such as ``F minor``.
    bars : (int, int), optional
        First and last printed bar number, instead of a section.
    size : str, optional
        ``small``, ``normal`` or ``large``.

    Raises
    ------
    ValueError
        If both section and bars are given.
    """
    if section and bars:
        raise ValueError("ask for a section or for bars, not for both")
    return ExcerptView(
        lesson,
        {
            "instrument": instrument,
            "level": level,
            "section": f"{bars[0]}-{bars[1]}" if bars else section,
            "size": size,
            "key": _key_name(lesson, key),
        },
    )


def problems(lesson: Lesson, level: str | None = None) -> ProblemsView:
    """List what is to be mended or looked at, with the bars that are meant.

    It stays in the notebook: pages and handouts leave it out.
    """
    return ProblemsView(lesson, {"level": level})


def player(lesson: Lesson, level: str | None = None, mix: str | None = None) -> PlayerView:
    """Play a level's audio: ``demo``, ``backing`` or ``melody``."""
    return PlayerView(lesson, {"level": level, "mix": mix})


def comparison(
    lesson: Lesson,
    lower: str | None = None,
    upper: str | None = None,
    instrument: str | None = None,
) -> ComparisonView:
    """Say what changes from one level to another (the first two if left out)."""
    return ComparisonView(
        lesson, {"instrument": instrument, "lower": lower, "upper": upper}
    )


def solo_guide(
    lesson: Lesson, level: str | None = None, instrument: str | None = None
) -> SoloGuideView:
    """Show scale, guide tones and phrases for a solo at a level."""
    return SoloGuideView(lesson, {"instrument": instrument, "level": level})


def practice_plan(
    lesson: Lesson, level: str | None = None, instrument: str | None = None
) -> PracticePlanView:
    """Show the steps to practise a level by."""
    return PracticePlanView(lesson, {"instrument": instrument, "level": level})


def _key_name(lesson: Lesson, key: str | None) -> str | None:
    """Give a key as the chooser names it, None for the tune's own."""
    found = practice_key(lesson, key)
    return found.name if found else None
