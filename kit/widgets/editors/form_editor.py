"""The form editor: sections by ranges of printed bars, drawn as the form chart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from kit.authoring.settings_edits import SettingsEdits
from kit.errors import KitError, LessonError
from kit.figures.figure import Figure, draw, markup
from kit.form.chart import form_chart_svg
from kit.form.facts import form_facts
from kit.form.find import find_form, form_proposals
from kit.form.ranges import form_from_ranges
from kit.form.sections import Form
from kit.lesson.lesson import Lesson
from kit.lesson.level import make_level
from kit.widgets._choosers import Chooser
from kit.widgets.editors._rows import RowsView, column, reason_of

__all__ = ["FormView", "form_editor"]

KEYS = ("sections",)
_SOURCES = {
    "ranges": "The sections are those of lesson.toml.",
    "marks": "The sections are those marked in the notation.",
}


def form_editor(lesson: Lesson) -> FormView:
    """Mark the sections of the tune by printed bar numbers."""
    return FormView(lesson, {})


class FormView(RowsView):
    """Sections in order: a label and the bars it takes."""

    def __init__(self, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        self._edits = SettingsEdits(lesson, None, KEYS)
        super().__init__(lesson, call)
        self.columns = [column("label", "Section"), column("bars", "Bars, as printed")]
        self.empty_row = {"label": "", "bars": ""}
        self.reset_words = "Use the notation's own marks"

    def offer(self) -> Iterable[Chooser]:
        """Offer nothing: the form is the same for all."""
        return ()

    @property
    def edits(self) -> SettingsEdits:
        """The form marks, as lesson.toml has them."""
        return self._edits

    def figure(self, chosen: Mapping[str, str]) -> Figure:  # noqa: ARG002
        """Draw the form chart, and say where the sections come from."""
        played = self.lesson.played
        form = self._form(self._edits.values["sections"])
        facts = form_facts(played, form)
        title = f"Sections of {self.lesson.title}: {facts.name}"
        warnings = self._warnings(form)
        source = _SOURCES.get(form.source) or f"{self._reason()} Check them."
        html = draw(
            "form_marks",
            title=title,
            aside=f"concert pitch, in {played.key}",
            svg=markup(form_chart_svg(played, form, show_changes=True)),
            source=source,
            warnings=warnings,
        )
        words = "\n".join((f"{title}.", source, *(f"{text}." for text in warnings)))
        return Figure("form-chart", title, html, words)

    def rows_now(self) -> list[dict[str, str]]:
        """Give the sections as label and range, each printed stretch once."""
        listed = self._edits.values["sections"]
        if listed:
            return [
                {"label": str(row.get("label", "")), "bars": str(row.get("bars", ""))}
                for row in listed
            ]
        bars = self.lesson.played.bars
        found = [
            (section.label, f"{bars[section.first].number}-{bars[section.last].number}")
            for section in self._form(None).sections
        ]
        return [{"label": label, "bars": text} for label, text in dict.fromkeys(found)]

    def read_rows(self, rows: list[dict[str, str]]) -> Mapping[str, Any]:
        """Turn rows into ranges; none at all means the notation's own marks.

        Raises
        ------
        LessonError
            If a row is not filled in.
        """
        for row in rows:
            if not row["label"] or not row["bars"]:
                raise LessonError(
                    "a section has no label or no bars yet",
                    remedy="fill both in, such as A and 1-8",
                )
        ranges = [
            {"label": row["label"], "bars": row["bars"].replace("–", "-").replace(" ", "")}
            for row in rows
        ]
        return {"sections": ranges or None}

    def check(self, values: Mapping[str, Any]) -> None:
        """Make sure that the ranges cover the tune.

        Raises
        ------
        LessonError
            If they do not.
        """
        self._form(values["sections"])

    def _form(self, ranges: Any) -> Form:
        if not ranges:
            return find_form(self.lesson.played)
        return form_from_ranges(
            self.lesson.played, ranges, source=self.lesson.settings.source
        )

    def _reason(self) -> str:
        return form_proposals(self.lesson.played)[0].reason

    def _warnings(self, form: Form) -> list[str]:
        """Say which levels would have to be changed for this form."""
        found = []
        for settings in self.lesson.settings.levels:
            try:
                make_level(settings, head=self.lesson.head(settings.name), form=form)
            except KitError as error:
                found.append(f"{settings.title}: {reason_of(error)}")
        return found
