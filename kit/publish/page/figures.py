"""How is a figure of the notebook drawn again for one level and instrument?

The options of the notebook's call say what stays as it is; what they leave open (the level,
the instrument) follows the reader's choice.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import Any

from kit.errors import LessonError
from kit.figures.comparison import comparison
from kit.figures.excerpt import excerpt
from kit.figures.form_chart import form_chart
from kit.figures.player import MIX_WORDS
from kit.figures.practice_plan import practice_plan
from kit.figures.solo_guide import solo_guide
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
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
    if call.show not in _DRAWERS:
        raise LessonError(
            f'the notebook shows a figure "{call.show}" that this kit does not know',
            file=lesson.name_of("lesson.ipynb"),
            remedy="run the notebook again with this version of the kit",
        )
    shown = call.options.get("level") or level
    return _DRAWERS[call.show](lesson, call.options, shown, instrument, among)


def _twice(desk: str, telephone: str) -> str:
    """Put a figure's two widths side by side; the style sheet shows one of them."""
    return f'<div class="wide">{desk}</div><div class="narrow">{telephone}</div>'


def _form_chart(
    lesson: Lesson, _options: Any, _level: str, instrument: str, among: Sequence[str]
) -> str:
    # The changes of the first level that may be seen: the lesson's first may be members'.
    def drawn(bars_per_line: int | None) -> str:
        return form_chart(
            lesson, instrument=instrument, bars_per_line=bars_per_line, level=among[0]
        ).html

    return _twice(drawn(None), drawn(4))


def _excerpt(
    lesson: Lesson, options: Any, level: str, instrument: str, _among: Sequence[str]
) -> str | None:
    section, bars, key = (options.get(name) for name in ("section", "bars", "key"))
    if not (section or bars or key or options.get("level")):
        return None  # all of the chosen level stands at the head of the page

    def drawn(bars_per_line: int) -> str:
        return excerpt(
            lesson,
            level=level,
            instrument=instrument,
            section=section,
            bars=(int(bars[0]), int(bars[1])) if bars else None,
            bars_per_line=bars_per_line,
            key=key,
        ).html

    return _twice(drawn(4), drawn(2))


def _problems(
    _lesson: Lesson, _options: Any, _level: str, _instrument: str, _among: Sequence[str]
) -> None:
    """Show nothing: what the kit finds doubtful is for the teacher, not for students."""


def _player(
    lesson: Lesson, options: Any, level: str, _instrument: str, _among: Sequence[str]
) -> str:
    mix = options.get("mix") or "demo"
    shown = lesson.level(level)
    words = f"{MIX_WORDS[mix]}, {shown.settings.tempo:g} beats a minute, {_minutes(shown)}"
    return f"<p><strong>{escape(shown.settings.title)}</strong>: {escape(words)}</p>"


def _minutes(level: Level) -> str:
    minutes, seconds = divmod(round(level.seconds + level.count_in_s), 60)
    return f"{minutes}:{seconds:02} with its count-in"


def _comparison(
    lesson: Lesson, options: Any, level: str, instrument: str, among: Sequence[str]
) -> str | None:
    upper = options.get("upper") or level
    place = among.index(upper) if upper in among else 0
    lower = options.get("lower") or (among[place - 1] if place > 0 else None)
    if lower is None or lower == upper:
        return None

    def drawn(bars_per_line: int) -> str:
        return comparison(
            lesson,
            lower=lower,
            upper=upper,
            instrument=instrument,
            bars_per_line=bars_per_line,
        ).html

    return _twice(drawn(4), drawn(2))


def _solo_guide(
    lesson: Lesson, _options: Any, level: str, instrument: str, _among: Sequence[str]
) -> str:
    def drawn(bars_per_line: int) -> str:
        return solo_guide(
            lesson, level=level, instrument=instrument, bars_per_line=bars_per_line
        ).html

    return _twice(drawn(4), drawn(2))


def _practice_plan(
    lesson: Lesson, _options: Any, level: str, instrument: str, _among: Sequence[str]
) -> str:
    return practice_plan(lesson, level=level, instrument=instrument).html


_Drawer = Callable[[Lesson, Any, str, str, Sequence[str]], str | None]
_DRAWERS: dict[str, _Drawer] = {
    "form-chart": _form_chart,
    "excerpt": _excerpt,
    "player": _player,
    "comparison": _comparison,
    "solo-guide": _solo_guide,
    "practice-plan": _practice_plan,
    "problems": _problems,
}
