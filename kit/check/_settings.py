"""What is missing around the music: a notebook, levels in order?"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from kit.check.finding import Finding
from kit.lesson.lesson import Lesson
from kit.levels.difficulty import difficulty

__all__ = ["level_order", "notebook_missing"]


def notebook_missing(lesson: Lesson) -> Iterator[Finding]:
    """Yield an error if the lesson has no notebook."""
    if not (lesson.folder / "lesson.ipynb").is_file():
        yield Finding(
            "error",
            "the lesson has no notebook",
            lesson.name_of("lesson.ipynb"),
            remedy="copy one from another lesson, or start the lesson with kit new",
            code="no-notebook",
        )


def level_order(lesson: Lesson) -> Iterator[Finding]:
    """Yield a warning for each level that comes out easier than the one before it.

    All levels have to be in working order.
    """
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
                code="level-order",
                level=upper,
            )
