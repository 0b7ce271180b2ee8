"""Say what went wrong, where, and what to do about it.

    KitError                 everything the kit raises on purpose
    ├── LessonError          the teacher can mend it in the lesson's files
    │   ├── NotationError    a notation file, or a bar in one, cannot be used
    │   │   └── UnevenBarError   a bar is longer or shorter than its meter
    │   ├── LevelError       a level's edit or address does not fit the music
    │   ├── RouteError       what is to be played does not fit the form
    │   └── ConflictError    a file has changed on disk since it was read
    └── SetupError           this machine lacks something the work needs

Misuse by a programmer is a plain ``ValueError`` or ``TypeError``.

A message is one sentence with its place first:
``levels/advanced.toml, bar 13: 9 eighths in a bar of 4/4; shorten the last note.``
It is a line of at most `LONGEST` characters that may be printed anywhere, whatever a file
holds that it quotes: what is quoted is shortened, never the remedy taken off.
"""

from __future__ import annotations

import re
from typing import Self

from kit.terminal import plain

__all__ = [
    "LONGEST",
    "ConflictError",
    "KitError",
    "LessonError",
    "LevelError",
    "NotationError",
    "RouteError",
    "SetupError",
    "UnevenBarError",
    "shortened",
]


LONGEST = 480
"""Characters of a message; with what is printed before it, it stays below 500."""
_LONGEST_QUOTE = 60
_LONGEST_FILE = 130
_LONGEST_BAR = 30
_LONGEST_REMEDY = 180
_QUOTED = re.compile(rf"([\"'])([^\"']{{{_LONGEST_QUOTE + 1},}})\1")


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
        file, bar = plain(self.file or ""), "" if self.bar is None else plain(f"{self.bar}")
        found, remedy = plain(self.found), plain(self.remedy or "")
        sentence = _joined(file, bar, found, remedy)
        if len(sentence) <= LONGEST:
            return sentence
        found, remedy = _with_short_quotes(found), _with_short_quotes(remedy)
        file, bar = shortened(file, _LONGEST_FILE), shortened(bar, _LONGEST_BAR)
        remedy = shortened(remedy, _LONGEST_REMEDY)
        room = LONGEST - len(_joined(file, bar, "", remedy))
        return _joined(file, bar, shortened(found, room), remedy)

    def _render_traceback_(self) -> list[str]:
        """Show the sentence alone in a notebook, where a traceback would bury it.

        Source: IPython, which asks an exception for this method before it formats one.
        """
        return [str(self), *map(plain, self.more)]

    def within(self, *, file: str | None = None, bar: str | int | None = None) -> Self:
        """Fill in the place where inner code did not know it, and return self."""
        if self.file is None:
            self.file = file
        if self.bar is None:
            self.bar = bar
        return self


def shortened(text: str, limit: int) -> str:
    """Take the middle out of a text that is longer than the limit.

    Examples
    --------
    >>> shortened("a very long name.abc", 11)
    'a ver…e.abc'
    """
    if len(text) <= limit:
        return text
    end = (limit - 1) // 2
    return f"{text[: limit - 1 - end]}…{text[len(text) - end :]}"


def _with_short_quotes(text: str) -> str:
    return _QUOTED.sub(
        lambda quote: quote[1] + shortened(quote[2], _LONGEST_QUOTE) + quote[1], text
    )


def _joined(file: str, bar: str, found: str, remedy: str) -> str:
    place = ", ".join(part for part in (file, bar and f"bar {bar}") if part)
    sentence = f"{place}: {found}" if place else found
    return f"{sentence}; {remedy}." if remedy else f"{sentence}."


class LessonError(KitError):
    """The teacher can mend this in the lesson's files."""


class NotationError(LessonError):
    """A notation file, or a bar in one, cannot be used as it is."""


class UnevenBarError(NotationError):
    """A bar is longer or shorter than its meter."""


class LevelError(LessonError):
    """A level names something that the music does not have or allow."""


class RouteError(LessonError):
    """What is to be played does not fit the form."""


class ConflictError(LessonError):
    """A file has changed on disk since it was read, so that writing it would lose that."""


class SetupError(KitError):
    """The machine lacks something that the work needs."""
