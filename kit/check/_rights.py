"""May this lesson be published as it says? The ledger's advice as findings."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from kit.check.finding import Finding
from kit.lesson.lesson import Lesson
from kit.rights.advice import advice

__all__ = ["rights_unclear"]


def rights_unclear(lesson: Lesson, on: date) -> Iterator[Finding]:
    """Yield what is missing or contradictory in the ledger on a day.

    It is an error, and stops the build, only where anything is given away.
    """
    settings = lesson.settings
    gives_away = bool(settings.tiers.free_levels and settings.tiers.free_kinds)
    for item in advice(settings.rights, on, gives_away=gives_away):
        yield Finding(
            item.severity, item.text, settings.source, remedy=item.remedy, code=item.code
        )
