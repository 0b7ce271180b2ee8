"""The figures that do more in the notebook than to be drawn for what is chosen."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

import traitlets

from kit.figures.excerpt_file import excerpt_musicxml
from kit.figures.figure import FIGURE_MIME
from kit.lesson.choices import printed_section, section_names
from kit.widgets._assets import script
from kit.widgets._choosers import Chooser, any_level_chooser
from kit.widgets._state import Destination
from kit.widgets.figures._figure_view import FigureView

__all__ = ["ExcerptView", "FormChartView", "ProblemsView"]

FILE_NAMED_BY = ("level", "instrument", "section", "key")


class FormChartView(FigureView):
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
        self._state.go_to(Destination(section))
        self.go_to(self._state.place)

    def go_to(self, place: Destination) -> None:
        """Frame the section that was chosen, wherever that was."""
        names = section_names(self.lesson.form)
        self.picked = names.index(place.section) if place.section in names else -1

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if isinstance(content, dict) and isinstance(content.get("pick"), int):
            self.pick(content["pick"])
        else:
            super()._on_message(widget, content, buffers)


class ExcerptView(FigureView):
    """Some bars of a level in the written key of the instrument chosen.

    What there is to look at in these bars is marked and listed, for the teacher. The
    browser copies and saves drawings itself and asks for notation by ``{"copy":
    "musicxml"}``, which is answered by ``{"copied": text}``.
    """

    _esm = script("choosers", "figure_parts", "excerpt")

    file_name = traitlets.Unicode().tag(sync=True)
    """What a file with these bars is called, without its ending."""

    def musicxml(self) -> str:
        """Give the bars chosen as MusicXML at written pitch."""
        asked = self._asked(self.chosen)
        del asked["bars_per_line"], asked["findings"]
        return excerpt_musicxml(self.lesson, **asked)

    def go_to(self, place: Destination) -> None:
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

    def _asked(self, chosen: Mapping[str, str]) -> dict[str, Any]:
        return {**super()._asked(chosen), "findings": True}

    def _drawn(self) -> dict[str, Any]:
        said = (self.lesson.slug, *(self.chosen[name] for name in FILE_NAMED_BY))
        name = re.sub(r"[^\w-]+", "-", "-".join(part for part in said if part))
        return {**super()._drawn(), "file_name": name}

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if content == {"copy": "musicxml"}:
            self.send({"copied": self.musicxml()})
        else:
            super()._on_message(widget, content, buffers)


class ProblemsView(FigureView):
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
        known = {row.slug for row in self.lesson.settings.instruments}
        if instrument in known:
            self._state.instrument = instrument
        named = level if level in self.lesson.level_names else None
        self._state.go_to(Destination(bars=(first, last), level=named))

    def offer(self) -> Iterable[Chooser]:
        """Offer the levels, and all of them at once."""
        return (any_level_chooser(self.lesson),)

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
