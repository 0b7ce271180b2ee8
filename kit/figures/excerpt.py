"""Some bars of a level as an instrument reads them."""

from __future__ import annotations

from dataclasses import replace

from kit.engrave import PHONE, SCREEN, engrave_excerpt
from kit.figures.choices import Stretch, stretch_of
from kit.figures.figure import Figure, draw, markup
from kit.figures.written import written
from kit.lesson import Lesson

__all__ = ["excerpt"]

FILL_LAST_LINE = 0.4
"""Four bars of long notes fill little more than this share of a line by themselves."""


def excerpt(
    lesson: Lesson,
    *,
    level: str,
    instrument: str,
    section: str | None = None,
    bars: tuple[int, int] | None = None,
    bars_per_line: int = 4,
) -> Figure:
    """Engrave bars of a level in the written key and range of an instrument.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str
        Whose part.
    section : str, optional
        ``A``, ``A2`` (the second A), ``head``, ``solo``; the whole sheet if None.
    bars : (int, int), optional
        First and last printed bar number, instead of a section.
    bars_per_line : int
        How many bars stand in a line.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument; `LevelError` if the level has no such
        section or bars.
    ValueError
        If both section and bars are given.
    """
    music = written(lesson, level=level, instrument=instrument)
    stretch = stretch_of(music.level, section=section, bars=bars)
    drawing = engrave_excerpt(
        lesson.part(level, instrument),
        first=stretch.first,
        last=stretch.last,
        page=replace(
            PHONE if bars_per_line <= 2 else SCREEN,
            bars_per_line=bars_per_line,
            fill_last_line=FILL_LAST_LINE,
        ),
    )
    title = f"{lesson.title}: {_what(stretch)}"
    words = "\n".join((f"{title}. {music.caption}.", *drawing.description))
    html = draw(
        "excerpt",
        title=title,
        aside=music.caption,
        svg=markup(drawing.svg),
        sentences=drawing.description,
    )
    options = {"level": level, "instrument": instrument, "section": section, "bars": bars}
    given = {name: value for name, value in options.items() if value is not None}
    return Figure("excerpt", title, html, words, given)


def _what(stretch: Stretch) -> str:
    return stretch.title.removeprefix("all, ")
