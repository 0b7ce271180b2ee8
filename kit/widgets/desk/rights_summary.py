"""May this be published? What lesson.toml states, and what follows country by country."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from kit.lesson.lesson import Lesson
from kit.rights.advice import REMINDER, advice, rights_words
from kit.widgets._panel import panel_template
from kit.widgets.desk._lesson_panel import LessonPanel

__all__ = ["RightsView", "rights_summary"]


def rights_summary(lesson: Lesson) -> RightsView:
    """Show what is stated about the rights in the tune, and what follows from it today.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    """
    return RightsView(lesson)


class RightsView(LessonPanel):
    """The rights of one lesson.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    """

    def __init__(self, lesson: Lesson) -> None:
        super().__init__(lesson, "Rights", "rights")

    def do(self, name: str, values: Mapping[str, str], data: bytes | None) -> None:  # noqa: ARG002
        """Read lesson.toml again."""
        if name == "again":
            self.lesson.reread()
            self.tell("Read again.")

    def static_html(self) -> str:
        """Show what is stated; what follows depends on the day and is left out."""
        return panel_template("rights_static", **self._stated())

    def static_words(self) -> str:
        """Say what is stated."""
        said = (f"{name}: {text.rstrip('.')}." for name, text in self._stated()["facts"])
        return "\n".join([f"Rights: {self.lesson.title}.", *said, REMINDER])

    def _stated(self) -> dict[str, Any]:
        settings = self.lesson.settings
        rights = settings.rights
        free = ", ".join(settings.tiers.free_levels)
        kinds = ", ".join(settings.tiers.free_kinds)
        facts = [
            ("Basis", rights.basis or "not stated"),
            ("Credit line", rights.statement or "none"),
            ("Given away", f"{kinds} of {free}" if free and kinds else "nothing"),
        ]
        return {"title": self.lesson.title, "facts": facts, "reminder": REMINDER}

    def shown_html(self) -> str:
        """Show what is stated, and what follows from it today."""
        settings = self.lesson.settings
        # A term ends by the calendar on the teacher's wall.
        today = date.today()
        gives_away = bool(settings.tiers.free_levels and settings.tiers.free_kinds)
        words = rights_words(settings.rights, today)
        return panel_template(
            "rights",
            **self._stated(),
            follows=[text for text in words if text != REMINDER],
            advice=advice(settings.rights, today, gives_away=gives_away),
            file=settings.source,
        )
