"""Which instrument is everyone on, and which bars? One answer per open lesson.

Choosing an instrument in one widget redraws the others that follow; a widget that has been
taken out (its "for all figures" box unticked) keeps its own. The form chart and the list of
problems send the others to some bars (`LessonState.go_to`). An editor that has saved a file
of the lesson raises the `edition`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import traitlets

from kit.lesson.lesson import Lesson
from kit.widgets._quiet import PAUSE_S, when_quiet

__all__ = ["Destination", "LessonState", "state_of"]


@dataclass(frozen=True, slots=True)
class Destination:
    """Where in the lesson: a section of the form (empty for all of it), or some bars.

    `bars` are printed numbers, first and last; `level` is None where any will do.
    """

    section: str = ""
    bars: tuple[int, int] | None = None
    level: str | None = None


class LessonState(traitlets.HasTraits):
    """What the widgets of one lesson share.

    Parameters
    ----------
    instrument : str
        Slug of the instrument chosen last by a widget that follows.
    edition : int
        Rises each time the lesson's files have been changed and read anew; widgets then
        draw themselves again.
    place : Destination
        Where the others were sent last.
    moves : int
        Rises each time they are sent somewhere, be it to the same place again.
    """

    instrument = traitlets.Unicode()
    edition = traitlets.Int(0)
    place: Any = traitlets.Instance(Destination, args=())
    moves = traitlets.Int(0)

    def share(self, instrument: str) -> None:
        """Let the widgets that follow change to an instrument once it stays chosen."""
        when_quiet(self, lambda: self.set_trait("instrument", instrument), after_s=PAUSE_S)

    def go_to(self, place: Destination) -> None:
        """Send the widgets that follow to some bars."""
        self.place = place
        self.moves += 1


_STATES: WeakKeyDictionary[Lesson, LessonState] = WeakKeyDictionary()


def state_of(lesson: Lesson) -> LessonState:
    """Give the lesson's state, the same for every widget of this lesson object."""
    if lesson not in _STATES:
        _STATES[lesson] = LessonState(instrument=lesson.settings.default_instrument)
    return _STATES[lesson]
