"""Is this lesson fit to build? Every problem at once, not the first one only.

The checks go from the source to the parts: settings, tune, levels, parts, rights. A room
whose input is broken is left out, so that one cause gives one finding.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from itertools import pairwise
from pathlib import Path

from kit.check.finding import Finding, from_error
from kit.check.rights import rights_findings
from kit.errors import KitError, LessonError
from kit.form import form_disagreement
from kit.lesson import Lesson, Level, open_lesson
from kit.levels import difficulty

__all__ = ["check_lesson"]


def check_lesson(folder: Path) -> tuple[Finding, ...]:
    """Give every finding about a lesson folder, errors first."""
    try:
        lesson = open_lesson(folder)
    except KitError as error:
        return (from_error(error),)
    findings = list(_findings(lesson))
    order = {"error": 0, "warning": 1, "hint": 2}
    return tuple(sorted(findings, key=lambda finding: order[finding.severity]))


def _findings(lesson: Lesson) -> Iterator[Finding]:
    yield from _notebook(lesson)
    yield from _rights(lesson)
    tune_errors = list(_tried(lambda: lesson.form))
    yield from tune_errors
    if tune_errors:
        return
    yield from _tune(lesson)
    levels: list[Level] = []
    for name in lesson.level_names:
        errors = list(_tried(lambda name=name: levels.append(lesson.level(name))))  # type: ignore[misc]
        yield from errors
    for level in levels:
        yield from _parts(lesson, level)
    if len(levels) == len(lesson.level_names):
        yield from _order(lesson)


def _tried(work: Callable[[], object]) -> Iterator[Finding]:
    try:
        work()
    except KitError as error:
        yield from_error(error)


def _notebook(lesson: Lesson) -> Iterator[Finding]:
    if not (lesson.folder / "lesson.ipynb").is_file():
        yield from_error(
            LessonError(
                "the lesson has no notebook",
                file=lesson.name_of("lesson.ipynb"),
                remedy="copy one from another lesson, or start the lesson with kit new",
            )
        )


def _rights(lesson: Lesson) -> Iterator[Finding]:
    settings = lesson.settings
    yield from rights_findings(
        settings.rights,
        date.today(),  # a term ends by the calendar on the teacher's wall
        gives_away=bool(settings.tiers.free_levels and settings.tiers.free_kinds),
        source=settings.source,
    )


def _tune(lesson: Lesson) -> Iterator[Finding]:
    tune = lesson.tune
    for notice in tune.notices:
        yield Finding("hint", notice.rstrip("."), tune.source)
    if not any(bar.chords for bar in tune.bars):
        yield Finding(
            "warning",
            "the tune has no changes, so the band has nothing to play",
            tune.source,
            remedy="write chord symbols above the melody",
        )
    disagreement = form_disagreement(lesson.played, lesson.form)
    if disagreement:
        yield Finding("hint", disagreement, tune.source)


def _parts(lesson: Lesson, level: Level) -> Iterator[Finding]:
    for horn in lesson.settings.instruments:
        part = lesson.part(level.name, horn.slug)
        for bar, position in part.out_of_range:
            written = part.tune.bars[bar]
            pitch = written.notes[position].pitch
            yield Finding(
                "warning",
                f"{horn.name}, {level.name}: the written {pitch} is outside the "
                f"instrument's range of {horn.range_written}",
                level.sheet.source,
                written.number,
                "rewrite the bar or leave the instrument out",
            )


def _order(lesson: Lesson) -> Iterator[Finding]:
    figures = [
        (level.name, difficulty(level.sheet, level.tempo_qpm).overall)
        for level in lesson.levels
    ]
    for (lower, easy), (upper, hard) in pairwise(figures):
        if hard < easy:
            yield Finding(
                "warning",
                f"level {upper} comes out easier ({hard:.1f}) than {lower} ({easy:.1f})",
                lesson.settings.source,
                remedy="check tempo and edits, or change the order of the levels",
            )
