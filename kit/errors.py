"""Say what went wrong, where, and what to do about it.

    KitError                 everything the kit raises on purpose
    ├── LessonError          the teacher can mend it in the lesson's files
    │   ├── NotationError    a notation file, or a bar in one, cannot be used
    │   ├── LevelError       a level's edit or address does not fit the music
    │   ├── RouteError       what is to be played does not fit the form
    │   ├── RangeError       a part cannot be played on the instrument
    │   ├── RightsError      the right to publish is missing or unclear
    │   └── ConflictError    a file has changed on disk since it was read
    └── SetupError           this machine lacks something the work needs

Misuse by a programmer is a plain ``ValueError`` or ``TypeError``.

A message is one sentence with its place first:
``levels/advanced.toml, bar 13: 9 eighths in a bar of 4/4; shorten the last note.``
"""

from __future__ import annotations

from typing import Self

__all__ = [
    "ConflictError",
    "KitError",
    "LessonError",
    "LevelError",
    "NotationError",
    "RangeError",
    "RightsError",
    "RouteError",
    "SetupError",
]


class KitError(Exception):
    """An error worth one clear sentence.

    Parameters
    ----------
    found : str
        What was found, as a clause without a final full stop.
    file : str, optional
        The file, as the teacher would name it (relative to the lesson folder).
    bar : str or int, optional
        The printed bar number; a pick-up is 0.
    remedy : str, optional
        What to do, as a clause.
    """

    def __init__(
        self,
        found: str,
        *,
        file: str | None = None,
        bar: str | int | None = None,
        remedy: str | None = None,
    ) -> None:
        super().__init__(found)
        self.found = found
        self.file = file
        self.bar = bar
        self.remedy = remedy
        self.more: tuple[str, ...] = ()

    def with_more(self, more: tuple[str, ...]) -> Self:
        """Add further findings, a sentence each, that were found with this one."""
        self.more = more
        return self

    def __str__(self) -> str:
        """Join place, finding and remedy into one sentence."""
        place = ", ".join(
            part
            for part in (self.file, None if self.bar is None else f"bar {self.bar}")
            if part
        )
        sentence = f"{place}: {self.found}" if place else self.found
        return f"{sentence}; {self.remedy}." if self.remedy else f"{sentence}."

    def _render_traceback_(self) -> list[str]:
        """Show the sentence alone in a notebook, where a traceback would bury it.

        Source: IPython, which asks an exception for this method before it formats one.
        """
        return [str(self), *self.more]

    def within(self, *, file: str | None = None, bar: str | int | None = None) -> Self:
        """Fill in the place where inner code did not know it, and return self."""
        if self.file is None:
            self.file = file
        if self.bar is None:
            self.bar = bar
        return self


class LessonError(KitError):
    """The teacher can mend this in the lesson's files."""


class NotationError(LessonError):
    """A notation file, or a bar in one, cannot be used as it is."""


class LevelError(LessonError):
    """A level names something that the music does not have or allow."""


class RouteError(LessonError):
    """What is to be played does not fit the form."""


class RangeError(LessonError):
    """A part cannot be played on the instrument it is written for."""


class RightsError(LessonError):
    """The right to publish is missing or unclear."""


class ConflictError(LessonError):
    """A file has changed on disk since it was read, so that writing it would lose that."""


class SetupError(KitError):
    """The machine lacks something that the work needs."""
