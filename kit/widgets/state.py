"""Which instrument is everyone on? One answer per open lesson, shared by its widgets.

Choosing an instrument in one widget redraws the others that follow; a widget that has been
taken out (its "everywhere" box unticked) keeps its own. An editor that has saved a file of
the lesson raises the `edition`.
"""

from __future__ import annotations

from weakref import WeakKeyDictionary

import traitlets

from kit.lesson import Lesson

__all__ = ["LessonState", "state_of"]


class LessonState(traitlets.HasTraits):
    """What the widgets of one lesson share.

    Parameters
    ----------
    instrument : str
        Slug of the instrument chosen last by a widget that follows.
    edition : int
        Rises each time the lesson's files have been changed and read anew; widgets then
        draw themselves again.
    """

    instrument = traitlets.Unicode()
    edition = traitlets.Int(0)


_STATES: WeakKeyDictionary[Lesson, LessonState] = WeakKeyDictionary()


def state_of(lesson: Lesson) -> LessonState:
    """Give the lesson's state, the same for every widget of this lesson object."""
    if lesson not in _STATES:
        _STATES[lesson] = LessonState(instrument=lesson.settings.default_instrument)
    return _STATES[lesson]
