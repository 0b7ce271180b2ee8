"""Which edits of a level do not apply? All of them, not the first only.

What an edit finds depends on the edits before it, so a failing one is passed over and the
rest are tried on the music as it stands without it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from kit.check.finding import Finding, from_error
from kit.errors import KitError
from kit.lesson.lesson import Lesson
from kit.levels.edits import apply_edits_reporting

__all__ = ["level_errors"]

_TUNE = "tune"


def level_errors(
    lesson: Lesson, name: str, *, broken: Collection[str]
) -> Iterator[Finding]:
    """Yield the errors that keep a level from being made.

    Parameters
    ----------
    lesson : Lesson
        An open lesson whose tune can be read.
    name : str
        One of its levels.
    broken : collection of str
        Levels already known to be broken: what builds on one of them is told once, there.
    """
    try:
        lesson.level(name)
    except KitError as error:
        failing = _failing_edits(lesson, name, broken)
        if failing is None:
            yield from_error(error, code="level", level=name)
        else:
            yield from failing


def _failing_edits(
    lesson: Lesson, name: str, broken: Collection[str]
) -> list[Finding] | None:
    """List the edits that do not apply, None if something else is wrong."""
    settings = next(level for level in lesson.settings.levels if level.name == name)
    if not settings.edits:
        return None
    try:
        file = lesson.level_file(name)
        if file.over in broken:
            return []
        base = lesson.head(file.over or _TUNE)
    except KitError:
        # Whoever asked has the error of this very file in hand and reports it.
        return None
    _, errors = apply_edits_reporting(
        base, file.edits, source=lesson.name_of(settings.edits)
    )
    return [from_error(error, code="edit", level=name) for error in errors] or None
