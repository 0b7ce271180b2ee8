"""What is there to mend or to look at in a lesson, with the bars that are meant?

For the teacher, in the notebook: it never reaches a page or a handout.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

from kit.check.finding import Finding, count_words
from kit.check.lesson import findings_beside, lesson_findings
from kit.engrave.drawing import engrave_excerpt
from kit.engrave.engraver import SCREEN
from kit.errors import LessonError
from kit.figures._marks import apart, marked
from kit.figures._page import Asked
from kit.figures._remarks import flags
from kit.figures.figure import Figure, draw, markup
from kit.form.wording import counted
from kit.instruments.part import Part
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.lesson.lesson import Lesson

__all__ = ["on_page", "problems"]

BARS_SHOWN = 4
DRAWN_AT_MOST = 24
"""A lesson with more findings than this needs its first ones mended first."""


@dataclass(frozen=True, slots=True)
class _Item:
    """A finding with the bars it means as a drawing; `svg` is empty where it has none.

    `first` and `last` are the printed numbers of the first bars meant that are in a row.
    """

    severity: str
    place: str
    sentence: str
    svg: str = ""
    caption: str = ""
    level: str = ""
    instrument: str = ""
    first: int | None = None
    last: int | None = None


def problems(lesson: Lesson, *, level: str | None = None) -> Figure:
    """List what `kit.check` has found, the gravest first.

    Parameters
    ----------
    lesson : Lesson
        An open lesson; its files may be broken.
    level : str, optional
        Only what concerns this level, the tune or the whole lesson.

    Raises
    ------
    LessonError
        If the lesson has no such level.
    """
    if level and level not in lesson.level_names:
        raise LessonError(
            f'there is no level "{level}"',
            file=lesson.settings.source,
            remedy=f"choose from {', '.join(lesson.level_names)}",
        )
    found = [
        finding
        for finding in lesson_findings(lesson)
        if not level or finding.level in (None, level)
    ]
    items = [_item(lesson, finding, place) for place, finding in enumerate(found)]
    title = f"Problems of {lesson.title}: {count_words(found)}"
    groups = [
        (counted(len(same), severity), [(one, markup(one.svg)) for one in same])
        for severity, group in groupby(items, key=lambda item: item.severity)
        if (same := list(group))
    ]
    words = "\n".join((f"{title}.", *(str(finding) for finding in found)))
    html = draw("problems", title=title, groups=groups)
    return Figure("problems", title, html, words, {"level": level} if level else {})


def on_page(_asked: Asked) -> None:
    """Show nothing: what the kit finds doubtful is for the teacher, not for students."""


def _item(lesson: Lesson, finding: Finding, place: int) -> _Item:
    sentence = finding.sentence
    item = _Item(finding.severity, finding.place, f"{sentence[:1].upper()}{sentence[1:]}")
    if place >= DRAWN_AT_MOST or not finding.bars:
        return item
    part, meant = _part_meant(lesson, finding)
    first = meant.bars[0]
    last = min(first + BARS_SHOWN, len(part.tune.bars)) - 1
    drawing = engrave_excerpt(
        part, first=first, last=last, page=replace(SCREEN, bars_per_line=BARS_SHOWN)
    )
    shown = [index for index in meant.bars if index <= last]
    svg = marked(drawing.svg, notes=meant.notes, bars=flags(part.tune, shown))
    more = len(meant.bars) - len(shown)
    caption = f"{part.instrument.name}, in {part.tune.key}"
    if more:
        caption += f"; and {counted(more, 'bar')} more"
    # Two findings may mean the same bars.
    run = first
    while run + 1 in meant.bars and run < last:
        run += 1
    return replace(
        item,
        svg=apart(svg, f"p{place}"),
        caption=caption,
        level=finding.level or "",
        instrument=finding.instruments[0] if finding.instruments else "",
        first=part.tune.bars[first].number,
        last=part.tune.bars[run].number,
    )


def _part_meant(lesson: Lesson, finding: Finding) -> tuple[Part, Finding]:
    """Give the part to draw, with what the finding says about this part alone."""
    if finding.level is None:
        return write_part(lesson.tune, instrument("concert")), finding
    if not finding.instruments:
        sheet = lesson.level(finding.level).sheet
        return write_part(sheet, instrument("concert"), level=finding.level), finding
    slug = finding.instruments[0]
    part = lesson.part(finding.level, slug)
    alone = next(
        one
        for one in findings_beside(lesson, finding.level, slug)
        if (one.code, one.file) == (finding.code, finding.file)
    )
    return part, alone
