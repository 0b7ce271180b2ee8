"""What do all widgets have in common: choosers, a figure, and a static form?

A view holds the values chosen. When one changes it draws its figure anew and sends markup
and choosers to the browser in one message. Views of one lesson share the instrument and
the place (`kit.widgets._state`) as long as their "for all" box is ticked; a call that names
an instrument starts with the box unticked.

The browser sends a choice, ``{"choose": {name: value}}``, and no other before it has been
answered by ``{"chosen": true}``, so that choices in quick succession do not pile up.

The static form is drawn from the values of the call, where left open for the lesson's first
level and default instrument, whatever is chosen later.
"""

from __future__ import annotations

import hashlib
from abc import abstractmethod
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

import traitlets

from kit.build.execute import is_building
from kit.errors import KitError
from kit.figures.figure import Figure
from kit.lesson.lesson import Lesson
from kit.widgets._assets import script, style
from kit.widgets._choosers import Chooser
from kit.widgets._saved import static_bundle
from kit.widgets._shown import ShownWidget
from kit.widgets._state import Destination, state_of

__all__ = ["LessonView", "model_id"]

_CALLS: Counter[str] = Counter()
"""How often each call has been made in this kernel."""


class LessonView(ShownWidget):
    """The base of every widget: draws a figure for the values chosen.

    Subclasses say which choosers there are (`offer`) and draw the figure (`figure`).

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    call : mapping
        Values of the call by chooser name, None where it left them open.

    Raises
    ------
    LessonError
        If the lesson cannot be used, or has no such level, instrument or section.
    """

    _esm = script("choosers", "figure_parts", "figure")
    _css = style()

    html = traitlets.Unicode().tag(sync=True)
    problem = traitlets.Unicode().tag(sync=True)
    choosers: Any = traitlets.List().tag(sync=True)
    shares = traitlets.Bool(default_value=False).tag(sync=True)
    """Whether there is an instrument to share at all."""
    follow = traitlets.Bool(default_value=True).tag(sync=True)

    def __init__(self, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        self.lesson = lesson
        self._call = dict(call)
        self._first = {name: value or self._default(name) for name, value in call.items()}
        self._state = state_of(lesson)
        self.chosen = dict(self._first)
        shares = "instrument" in call
        follow = shares and not call["instrument"]
        if follow:
            self.chosen["instrument"] = self._state.instrument
        super().__init__(
            model_id=model_id(self._identity(), lesson.slug, self._call),
            shares=shares,
            follow=follow,
            # A build takes the static form, and nobody looks at the live one.
            **({} if is_building() else self._drawn()),
        )
        self.on_msg(self._on_message)
        self.observe(self._on_follow, names="follow")
        self._state.observe(self._on_shared_instrument, names="instrument")
        self._state.observe(self._on_edition, names="edition")
        self._state.observe(self._on_moved, names="moves")

    @abstractmethod
    def offer(self) -> Iterable[Chooser]:
        """Give the choosers for the values chosen now."""

    @abstractmethod
    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Draw the figure for these values."""

    def go_to(self, place: Destination) -> None:
        """Show the bars that another widget has asked for; most figures show all anyway.

        Raises
        ------
        KitError
            If the level cannot be computed.
        """

    def choose(self, **values: str) -> None:
        """Choose as the browser does; a value that is of no use leaves a `problem`.

        Raises
        ------
        ValueError
            If there is no chooser of that name.
        """
        for name in values:
            if name not in self.chosen:
                raise ValueError(f"there is no chooser {name!r}")
        before = dict(self.chosen)
        self.chosen.update(values)
        try:
            self._settle(kept=values)
            drawn = self._drawn()
        except KitError as error:
            self.chosen = before
            self.problem = str(error)
            return
        with self.hold_sync():
            self.problem = ""
            for name, value in drawn.items():
                self.set_trait(name, value)
        if self.follow and "instrument" in values:
            self._state.share(values["instrument"])

    def close(self) -> None:
        """Take the widget down and stop following the others."""
        # The base class closes once more when the object is thrown away half built.
        if hasattr(self, "_state") and self.comm is not None:
            self._state.unobserve(self._on_shared_instrument, names="instrument")
            self._state.unobserve(self._on_edition, names="edition")
            self._state.unobserve(self._on_moved, names="moves")
        super().close()

    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook: private type, HTML and plain text."""
        given = {name: value for name, value in self._call.items() if value}
        return static_bundle(self.figure(self._first), options=given)

    def _identity(self) -> str:
        """Say what is shown, for the id of the view."""
        return type(self).__name__

    def _default(self, name: str) -> str:
        settings = self.lesson.settings
        defaults = {
            "instrument": settings.default_instrument,
            "level": settings.levels[0].name,
        }
        return defaults.get(name, "")

    def _drawn(self) -> dict[str, Any]:
        drawn = self.figure(self.chosen)
        return {
            "html": drawn.html,
            "choosers": [c.to_browser(self.chosen[c.name]) for c in self.offer()],
        }

    def _settle(self, *, kept: Iterable[str]) -> None:
        """Where a value is no longer on offer, fall back to the first that is."""
        for chooser in self.offer():
            if chooser.name not in kept and self.chosen[chooser.name] not in chooser:
                self.chosen[chooser.name] = chooser.options[0][0]

    def _on_message(self, _: Any, content: Any, __: list[memoryview]) -> None:
        """Do what the browser asks, and say when it is done."""
        if isinstance(content, dict) and isinstance(content.get("choose"), dict):
            picked = content["choose"]
            try:
                self.choose(**{str(name): str(value) for name, value in picked.items()})
            finally:
                self.send({"chosen": True})

    def _on_follow(self, change: Any) -> None:
        if change["new"]:
            self.choose(instrument=self._state.instrument)

    def _on_moved(self, _: Any) -> None:
        if not self.follow:
            return
        try:
            self.go_to(self._state.place)
        except KitError as error:
            self.problem = str(error)

    def _on_edition(self, _: Any) -> None:
        """Draw anew: the lesson's files have changed and been read."""
        self.choose()

    def _on_shared_instrument(self, change: Any) -> None:
        if self.follow and self.shares and self.chosen["instrument"] != change["new"]:
            self.choose(instrument=change["new"])


def model_id(view: str, slug: str, call: Mapping[str, str | None]) -> str:
    """Give a view the same id whenever the notebook is run from the top.

    Ids drawn at random would change the saved notebook on every run.
    """
    said = repr((view, slug, sorted(call.items())))
    _CALLS[said] += 1
    return hashlib.sha256(f"{said} {_CALLS[said]}".encode()).hexdigest()[:32]
