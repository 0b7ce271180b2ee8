"""A figure under choosers: what can be chosen follows from the parameters of its call."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from kit.errors import LessonError
from kit.figures.by_kind import drawing, figure_row
from kit.figures.figure import FIGURE_MIME, Figure
from kit.lesson.choices import bars_from, stretches
from kit.lesson.lesson import Lesson
from kit.widgets._choosers import (
    SIZES,
    Chooser,
    instrument_chooser,
    key_chooser,
    level_chooser,
    mix_chooser,
    section_chooser,
    section_or_bars_chooser,
    size_chooser,
)
from kit.widgets._view import LessonView

__all__ = ["FigureView"]


class FigureView(LessonView):
    """Any figure of the table, drawn anew for what is chosen.

    A section is named, or given by printed bar numbers as ``5-8``. A figure that does more
    in the notebook than to be drawn has a view of its own, which says what.

    Parameters
    ----------
    kind : str
        One of `kit.lesson.figure_calls`.
    lesson, call
        As of `LessonView`; bars are a section in the call.
    """

    def __init__(self, kind: str, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        self._row = figure_row(kind)
        super().__init__(lesson, call)

    def offer(self) -> Iterable[Chooser]:
        """Offer a choice for each parameter, the instrument first."""
        return tuple(_CHOOSERS[name](self) for name in self._call)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the figure."""
        return drawing(self._row.kind)(self.lesson, **self._asked(chosen))

    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook, bars as an exporter asks for them."""
        bundle = super().static_form()
        options = bundle[FIGURE_MIME]
        options.pop("size", None)
        bars = self._asked(self._first).get("bars")
        if bars is not None:
            del options["section"]
            options["bars"] = list(bars)
        return bundle

    def _asked(self, chosen: Mapping[str, str]) -> dict[str, Any]:
        """Say in terms of `kit.figures` what is to be shown."""
        asked: dict[str, Any] = {
            name: chosen[name] or None for name in self._row.parameters if name in chosen
        }
        if "size" in asked:
            asked["bars_per_line"] = _bars_per_line(asked.pop("size"))
        if "bars" in self._row.parameters:
            level = self.lesson.level(chosen["level"])
            section = chosen["section"]
            known = {stretch.name for stretch in stretches(level)}
            asked["bars"] = None if section in known else bars_from(level, section)
            if asked["bars"]:
                asked["section"] = None
        return asked

    def _default(self, name: str) -> str:
        names = self.lesson.level_names
        defaults = {
            "lower": names[0],
            "upper": names[min(1, len(names) - 1)],
            "size": "normal",
            "mix": "demo",
        }
        return defaults.get(name) or super()._default(name)

    def _identity(self) -> str:
        return f"{self._row.kind.title().replace('-', '')}View"

    def _sections(self) -> Chooser:
        level = self.lesson.level(self.chosen["level"])
        if "bars" in self._row.parameters:
            return section_or_bars_chooser(level, self.chosen["section"])
        return section_chooser(stretches(level))


def _bars_per_line(size: str) -> int:
    if size not in SIZES:
        raise LessonError(
            f'there is no size "{size}"', remedy=f"choose from {', '.join(SIZES)}"
        )
    return SIZES[size][1]


_CHOOSERS: Mapping[str, Callable[[FigureView], Chooser]] = {
    "instrument": lambda view: instrument_chooser(view.lesson),
    "level": lambda view: level_chooser(view.lesson),
    "lower": lambda view: level_chooser(view.lesson, "lower", "From"),
    "upper": lambda view: level_chooser(view.lesson, "upper", "to"),
    "section": FigureView._sections,
    "key": lambda view: key_chooser(view.lesson.level(view.chosen["level"])),
    "size": lambda _: size_chooser(),
    "mix": lambda _: mix_chooser(),
}
"""By parameter; bars are chosen with the sections."""
