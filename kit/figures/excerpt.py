"""Some bars of a level as an instrument reads them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from kit.engrave.drawing import engrave_excerpt
from kit.engrave.engraver import PHONE, SCREEN, Page
from kit.figures._marks import marked
from kit.figures._page import Asked, in_two_widths
from kit.figures._range_words import range_words
from kit.figures._remarks import Remark, flags, remarks, ringed
from kit.figures.figure import Figure, draw, markup
from kit.figures.written import written
from kit.lesson.choices import Stretch, stretch_of
from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.tune.model import Tune

__all__ = ["excerpt", "on_page"]

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
    key: str | None = None,
    findings: bool = False,
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
        How many bars stand in a line; with more than four the music is smaller.
    key : str, optional
        Another concert key to play in, such as ``F minor``.
    findings : bool
        Whether what `kit.check` has to say about these bars is marked and listed, and how
        they lie on the instrument. That is for the teacher: pages and handouts go without.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument, or the tune cannot be played in the
        key; `LevelError` if the level has no such section or bars.
    ValueError
        If both section and bars are given.
    """
    concert_key = practice_key(lesson, key, level=level)
    music = written(lesson, level=level, instrument=instrument, concert_key=concert_key)
    stretch = stretch_of(music.level, section=section, bars=bars)
    drawing = engrave_excerpt(
        lesson.part(level, instrument, concert_key=concert_key),
        first=stretch.first,
        last=stretch.last,
        page=_page(bars_per_line),
    )
    said: tuple[Remark, ...] = ()
    lies = ""
    if findings:
        lies = range_words(
            lesson.part(level, instrument, concert_key=concert_key),
            first=stretch.first,
            last=stretch.last,
            level=level,
        )
        said = remarks(
            lesson,
            level=level,
            instrument=instrument,
            concert_key=concert_key,
            stretch=stretch,
        )
    title = f"{lesson.title}: {_what(stretch)}"
    aside = music.caption
    if concert_key is not None:
        aside += f", sounding in {concert_key}"
    words = "\n".join(
        (
            f"{title}. {aside}.",
            *drawing.description,
            *([lies] if lies else []),
            *(remark.words for remark in said),
        )
    )
    html = draw(
        "excerpt",
        title=title,
        aside=aside,
        svg=markup(_with_marks(drawing.svg, said, music.sheet)),
        sentences=drawing.description,
        lies=lies,
        remarks=said,
    )
    options = {
        "level": level,
        "instrument": instrument,
        "section": section,
        "bars": bars,
        "key": concert_key.name if concert_key else None,
    }
    given = {name: value for name, value in options.items() if value is not None}
    return Figure("excerpt", title, html, words, given)


def on_page(asked: Asked) -> str | None:
    """Engrave what the call names at two widths, None if it names nothing.

    All of the chosen level stands at the head of the page.
    """
    section, bars, key = (asked.options.get(name) for name in ("section", "bars", "key"))
    if not (section or bars or key or asked.options.get("level")):
        return None
    draw = partial(
        excerpt,
        asked.lesson,
        level=asked.level,
        instrument=asked.instrument,
        section=section,
        bars=(int(bars[0]), int(bars[1])) if bars else None,
        key=key,
    )
    return in_two_widths(draw)


def _page(bars_per_line: int) -> Page:
    page = PHONE if bars_per_line <= 2 else SCREEN
    return replace(
        page,
        # A wider page, shown as wide as ever, is smaller music.
        width_mm=page.width_mm * max(1.0, bars_per_line / SCREEN.bars_per_line),
        bars_per_line=bars_per_line,
        fill_last_line=FILL_LAST_LINE,
    )


def _with_marks(svg: str, said: Sequence[Remark], sheet: Tune) -> str:
    if not said:
        return svg
    bars = flags(sheet, *(remark.bars for remark in said))
    return marked(svg, notes=ringed(said), bars=bars)


def _what(stretch: Stretch) -> str:
    return stretch.title.removeprefix("all, ")
