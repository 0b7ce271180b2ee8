"""The widgets that show a figure under choosers of their own."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

import traitlets

from kit.errors import LessonError
from kit.figures.comparison import comparison
from kit.figures.excerpt import excerpt
from kit.figures.excerpt_file import excerpt_musicxml
from kit.figures.figure import FIGURE_MIME, Figure
from kit.figures.form_chart import form_chart
from kit.figures.practice_plan import practice_plan
from kit.figures.problems import problems
from kit.figures.solo_guide import solo_guide
from kit.lesson.choices import bars_from, printed_section, section_names, stretches
from kit.widgets._assets import script
from kit.widgets._choosers import (
    SIZES,
    Chooser,
    any_level_chooser,
    instrument_chooser,
    key_chooser,
    level_chooser,
    section_or_bars_chooser,
    size_chooser,
)
from kit.widgets._state import Place
from kit.widgets._view import LessonView

__all__ = [
    "ComparisonView",
    "ExcerptView",
    "FormChartView",
    "PracticePlanView",
    "ProblemsView",
    "SoloGuideView",
]


FILE_NAMED_BY = ("level", "instrument", "section", "key")


class FormChartView(LessonView):
    """The form, its changes named in the key of the instrument chosen.

    A section that is clicked, ``{"pick": place}`` from the browser, is shown by the figures
    that follow; clicked once more, they show the whole tune again.
    """

    _esm = script("choosers", "figure_parts", "form_chart")

    picked = traitlets.Int(-1).tag(sync=True)
    """Place in the form of the section chosen; -1 for the whole tune."""

    def pick(self, place: int) -> None:
        """Send the other figures to a section, or to the whole tune if it is there."""
        names = section_names(self.lesson.form)
        if not 0 <= place < len(names):
            return
        section = "" if place == self.picked else names[place]
        self._state.go_to(Place(section))
        self.go_to(self._state.place)

    def go_to(self, place: Place) -> None:
        """Frame the section that was chosen, wherever that was."""
        names = section_names(self.lesson.form)
        self.picked = names.index(place.section) if place.section in names else -1

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if isinstance(content, dict) and isinstance(content.get("pick"), int):
            self.pick(content["pick"])
        else:
            super()._on_message(widget, content, buffers)

    def offer(self) -> Iterable[Chooser]:
        """Offer the instruments."""
        return (instrument_chooser(self.lesson),)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the form chart."""
        return form_chart(self.lesson, instrument=chosen["instrument"])


class ExcerptView(LessonView):
    """Some bars of a level in the written key of the instrument chosen.

    What there is to look at in these bars is marked and listed, for the teacher. A section
    is named, or given by printed bar numbers as ``5-8``. The browser copies and saves
    drawings itself and asks for notation by ``{"copy": "musicxml"}``, which is answered by
    ``{"copied": text}``.
    """

    _esm = script("choosers", "figure_parts", "excerpt")

    file_name = traitlets.Unicode().tag(sync=True)
    """What a file with these bars is called, without its ending."""

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments, levels, sections and bars of the level, keys and sizes."""
        level = self.lesson.level(self.chosen["level"])
        return (
            instrument_chooser(self.lesson),
            level_chooser(self.lesson),
            section_or_bars_chooser(level, self.chosen["section"]),
            key_chooser(self.lesson),
            size_chooser(),
        )

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Engrave the bars."""
        if chosen["size"] not in SIZES:
            raise LessonError(
                f'there is no size "{chosen["size"]}"',
                remedy=f"choose from {', '.join(SIZES)}",
            )
        return excerpt(
            self.lesson,
            **self._asked(chosen),
            bars_per_line=SIZES[chosen["size"]][1],
            findings=True,
        )

    def musicxml(self) -> str:
        """Give the bars chosen as MusicXML at written pitch."""
        return excerpt_musicxml(self.lesson, **self._asked(self.chosen))

    def go_to(self, place: Place) -> None:
        """Show a section or bars chosen elsewhere, unless the call says what to show."""
        said = self._call
        if said["section"] or (place.level and said["level"] not in (None, place.level)):
            return
        level = place.level or self.chosen["level"]
        section = printed_section(self.lesson.level(level), place.section)
        if place.bars is not None:
            section = f"{place.bars[0]}-{place.bars[1]}"
        if section is not None:
            self.choose(level=level, section=section)

    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook, bars as an exporter asks for them."""
        bundle = super().static_form()
        options = bundle[FIGURE_MIME]
        options.pop("size", None)
        bars = self._asked(self._first)["bars"]
        if bars is not None:
            del options["section"]
            options["bars"] = list(bars)
        return bundle

    def _asked(self, chosen: Mapping[str, str]) -> dict[str, Any]:
        """Say in terms of `kit.figures` what is to be shown."""
        level = self.lesson.level(chosen["level"])
        section = chosen["section"]
        known = {stretch.name for stretch in stretches(level)}
        bars = None if section in known else bars_from(level, section)
        return {
            "level": chosen["level"],
            "instrument": chosen["instrument"],
            "section": None if bars else section or None,
            "bars": bars,
            "key": chosen["key"] or None,
        }

    def _drawn(self) -> dict[str, Any]:
        said = (self.lesson.slug, *(self.chosen[name] for name in FILE_NAMED_BY))
        name = re.sub(r"[^\w-]+", "-", "-".join(part for part in said if part))
        return {**super()._drawn(), "file_name": name}

    def _default(self, name: str) -> str:
        return "normal" if name == "size" else super()._default(name)

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if content == {"copy": "musicxml"}:
            self.send({"copied": self.musicxml()})
        else:
            super()._on_message(widget, content, buffers)


class ProblemsView(LessonView):
    """What there is to mend or to look at in the lesson.

    The browser sends ``{"go": {"first", "last", "level", "instrument"}}`` to have the bars
    of a finding shown where they can be mended.
    """

    _esm = script("choosers", "figure_parts", "problems")

    def go(self, first: int, last: int, *, level: str = "", instrument: str = "") -> None:
        """Send the other figures to some bars (printed numbers).

        Parameters
        ----------
        first, last : int
            Both included.
        level, instrument : str
            Who reads them; left as they are if empty or not in the lesson.
        """
        known = {horn.slug for horn in self.lesson.settings.instruments}
        if instrument in known:
            self._state.instrument = instrument
        named = level if level in self.lesson.level_names else None
        self._state.go_to(Place(bars=(first, last), level=named))

    def offer(self) -> Iterable[Chooser]:
        """Offer the levels, and all of them at once."""
        return (any_level_chooser(self.lesson),)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """List the findings."""
        return problems(self.lesson, level=chosen["level"] or None)

    def static_form(self) -> dict[str, Any]:
        """Give what is saved, without the private type: it is for nobody but the teacher.

        An exporter draws what bears the private type, and this has no place on a page.
        """
        bundle = super().static_form()
        del bundle[FIGURE_MIME]
        return bundle

    def _default(self, name: str) -> str:
        return "" if name == "level" else super()._default(name)

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        wish = content.get("go") if isinstance(content, dict) else None
        if not isinstance(wish, dict):
            super()._on_message(widget, content, buffers)
            return
        first, last = wish.get("first"), wish.get("last")
        if isinstance(first, int) and isinstance(last, int):
            who = {name: str(wish.get(name, "")) for name in ("level", "instrument")}
            self.go(first, last, **who)


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
        return comparison(
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
        return solo_guide(
            self.lesson, level=chosen["level"], instrument=chosen["instrument"]
        )


class PracticePlanView(LessonView):
    """Steps from the first reading to the tempo of the level."""

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments and levels."""
        return (instrument_chooser(self.lesson), level_chooser(self.lesson))

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the plan."""
        return practice_plan(
            self.lesson, level=chosen["level"], instrument=chosen["instrument"]
        )
