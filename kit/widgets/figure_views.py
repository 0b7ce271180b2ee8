"""The widgets that show a figure under choosers of their own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kit import figures
from kit.figures import FIGURE_MIME, Figure
from kit.widgets.choosers import (
    Chooser,
    any_level_chooser,
    instrument_chooser,
    key_chooser,
    level_chooser,
    section_chooser,
)
from kit.widgets.view import LessonView

__all__ = [
    "ComparisonView",
    "ExcerptView",
    "FormChartView",
    "PracticePlanView",
    "ProblemsView",
    "SoloGuideView",
]


class FormChartView(LessonView):
    """The form, its changes named in the key of the instrument chosen."""

    def offer(self) -> Iterable[Chooser]:
        """Offer the instruments."""
        return (instrument_chooser(self.lesson),)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the form chart."""
        return figures.form_chart(self.lesson, instrument=chosen["instrument"])


class ExcerptView(LessonView):
    """Some bars of a level in the written key of the instrument chosen.

    What there is to look at in these bars is marked and listed, for the teacher.
    """

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments, levels, the sections of the level chosen, and keys."""
        level = self.lesson.level(self.chosen["level"])
        return (
            instrument_chooser(self.lesson),
            level_chooser(self.lesson),
            section_chooser(figures.stretches(level)),
            key_chooser(self.lesson),
        )

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Engrave the bars."""
        return figures.excerpt(
            self.lesson,
            level=chosen["level"],
            instrument=chosen["instrument"],
            section=chosen["section"] or None,
            key=chosen["key"] or None,
            findings=True,
        )


class ProblemsView(LessonView):
    """What there is to mend or to look at in the lesson."""

    def offer(self) -> Iterable[Chooser]:
        """Offer the levels, and all of them at once."""
        return (any_level_chooser(self.lesson),)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """List the findings."""
        return figures.problems(self.lesson, level=chosen["level"] or None)

    def static_form(self) -> dict[str, Any]:
        """Give what is saved, without the private type: it is for nobody but the teacher.

        An exporter draws what bears the private type, and this has no place on a page.
        """
        bundle = super().static_form()
        del bundle[FIGURE_MIME]
        return bundle

    def _default(self, name: str) -> str:
        return "" if name == "level" else super()._default(name)


class ComparisonView(LessonView):
    """What is different from one level to another."""

    def offer(self) -> Iterable[Chooser]:
        """Offer the instruments and the two levels."""
        return (
            instrument_chooser(self.lesson),
            level_chooser(self.lesson, "lower", "From"),
            level_chooser(self.lesson, "upper", "to"),
        )

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Compare the levels."""
        return figures.comparison(
            self.lesson,
            lower=chosen["lower"],
            upper=chosen["upper"],
            instrument=chosen["instrument"],
        )

    def _default(self, name: str) -> str:
        names = self.lesson.level_names
        first_two = {"lower": names[0], "upper": names[min(1, len(names) - 1)]}
        return first_two.get(name) or super()._default(name)


class SoloGuideView(LessonView):
    """Scale, guide tones and phrases for a solo."""

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments and levels."""
        return (instrument_chooser(self.lesson), level_chooser(self.lesson))

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the guide."""
        return figures.solo_guide(
            self.lesson, level=chosen["level"], instrument=chosen["instrument"]
        )


class PracticePlanView(LessonView):
    """Steps from the first reading to the tempo of the level."""

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments and levels."""
        return (instrument_chooser(self.lesson), level_chooser(self.lesson))

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the plan."""
        return figures.practice_plan(
            self.lesson, level=chosen["level"], instrument=chosen["instrument"]
        )
