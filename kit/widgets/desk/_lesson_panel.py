"""What do the panels of one lesson have in common?

One region shows what the lesson says, and is drawn again whenever the lesson is read anew,
by whichever widget or cell.
"""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

from kit.lesson.lesson import Lesson
from kit.widgets._panel import Panel
from kit.widgets._state import state_of

__all__ = ["LessonPanel"]


class LessonPanel(Panel):
    """A panel of one lesson.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    name : str
        What is shown, the lesson's title behind it.
    region : str
        The name of its region.
    """

    def __init__(self, lesson: Lesson, name: str, region: str) -> None:
        self.lesson = lesson
        self._region = region
        super().__init__(f"{name}: {lesson.title}", {}, {region: self.shown_html()})
        self._shared = state_of(lesson)
        self._shared.observe(self._on_edition, names="edition")

    @abstractmethod
    def shown_html(self) -> str:
        """Give the HTML of the region, from the lesson as it is."""

    def close(self) -> None:
        """Take the widget down."""
        if hasattr(self, "_shared") and self.comm is not None:
            self._shared.unobserve(self._on_edition, names="edition")
        super().close()

    def tell(self, words: str) -> None:
        """Say what was done; everything that shows the lesson is drawn again."""
        self._shared.edition += 1
        self.said = words

    def _on_edition(self, _: Any) -> None:
        self.fill(**{self._region: self.shown_html()})
