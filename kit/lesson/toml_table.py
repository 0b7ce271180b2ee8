"""Read a TOML table key by key, with errors a teacher can act on.

Every key has to be asked for; `Table.finish` reports the ones nobody asked for, because a
misspelt key that is silently ignored costs an evening.
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, TypeVar, cast

from kit.errors import LessonError
from kit.reading import read_bytes, text_of, told, toml_of
from kit.terminal import plain
from kit.tune.source_text import without_controls

__all__ = ["Table", "near", "read_toml"]

MAX_TOML_BYTES = 1_000_000
"""A lesson.toml is some kilobytes; a megabyte of it is a mistake or an attack."""

MAX_ROWS = 500
"""No list of a lesson.toml is so long."""

T = TypeVar("T")
_KIND_WORDS = {
    str: "text",
    int: "a whole number",
    float: "a number",
    bool: "true or false",
    date: "a date such as 2026-01-31",
}


def read_toml(path: Path, *, source: str) -> dict[str, Any]:
    """Read a TOML file.

    Raises
    ------
    LessonError
        If it is missing, too large, not UTF-8, not TOML (with the line) or nested absurdly.
    """
    with told(source):
        return toml_of(text_of(read_bytes(path, limit_bytes=MAX_TOML_BYTES)))


def near(name: str, choices: Iterable[str]) -> str:
    """Word a remedy for an unknown name from the real choices."""
    known = sorted(choices)
    # One guess, or the list: two guesses read as if either would do.
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    if close:
        return f"did you mean {close[0]}?"
    return f"choose from {', '.join(known)}" if known else "there are none to choose from"


class Table:
    """A table of a TOML file and where it stands, for messages.

    Texts lose what no title or word needs (`kit.tune.source_text.without_controls`).
    """

    def __init__(self, data: Mapping[str, Any], *, source: str, place: str = "") -> None:
        self._data = data
        self.source = source
        self._place = place
        self._asked: set[str] = set()

    def error(self, found: str, remedy: str | None = None) -> LessonError:
        """Make an error that names the file and the table."""
        place = f"in [{self._place}], " if self._place else ""
        return LessonError(f"{place}{found}", file=self.source, remedy=remedy)

    def has(self, key: str) -> bool:
        """Say whether the key is there."""
        self._asked.add(key)
        return key in self._data

    def get(self, key: str, default: T) -> T:
        """Give a value of the default's type, or the default.

        Raises
        ------
        LessonError
            If the value is of another type.
        """
        self._asked.add(key)
        return self._typed(key, self._data.get(key, default), type(default))

    def need(self, key: str, kind: type[T]) -> T:
        """Give a value that must be there.

        Raises
        ------
        LessonError
            If it is missing or of another type.
        """
        self._asked.add(key)
        if key not in self._data:
            raise self.error(f'"{key}" is missing', f"add a line {key} = …")
        return self._typed(key, self._data[key], kind)

    def line(self, key: str, default: str = "") -> str:
        """Give a text on one line, whatever its spaces and line ends."""
        return " ".join(self.get(key, default).split())

    def file_name(self, key: str, default: str = "") -> str:
        """Give the name of a file as it is written.

        Raises
        ------
        LessonError
            If it is no text, or has a sign that the name of a file cannot have.
        """
        self._asked.add(key)
        name = self._data.get(key, default)
        self._typed(key, name, str)
        # Not cleaned like other texts: a name that is changed would name another file.
        if name != plain(name):
            raise self.error(
                f'{key} = "{name}" cannot name a file', "take the control signs out of it"
            )
        return str(name)

    def texts(self, key: str, default: tuple[str, ...] = ()) -> tuple[str, ...]:
        """Give a list of texts.

        Raises
        ------
        LessonError
            If it is anything else.
        """
        self._asked.add(key)
        value = self._data.get(key, list(default))
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise self.error(f'"{key}" must be a list of texts', f'write {key} = ["…"]')
        self._require_few(key, value)
        return tuple(map(without_controls, value))

    def numbers(self, key: str, default: tuple[int, ...] = ()) -> tuple[int, ...]:
        """Give a list of whole numbers.

        Raises
        ------
        LessonError
            If it is anything else.
        """
        self._asked.add(key)
        value = self._data.get(key, list(default))
        # Not isinstance: true is an int in Python, and no tempo.
        if not isinstance(value, list) or not all(type(v) is int for v in value):
            raise self.error(
                f'"{key}" must be a list of whole numbers', f"write {key} = [100]"
            )
        self._require_few(key, value)
        return tuple(value)

    def choice(self, key: str, choices: Iterable[str], default: str) -> str:
        """Give one of some names.

        Raises
        ------
        LessonError
            If it is none of them, with the nearest.
        """
        known = tuple(choices)
        value = self.get(key, default)
        if value not in known:
            raise self.error(f'{key} = "{value}" is not known', near(value, known))
        return value

    def table(self, key: str) -> Table:
        """Give a table inside this one; empty if it is not there."""
        self._asked.add(key)
        value = self._data.get(key, {})
        if not isinstance(value, dict):
            raise self.error(f'"{key}" must be a table', f"write it under [{key}]")
        return Table(value, source=self.source, place=self._inner(key))

    def tables(self, key: str) -> tuple[Table, ...]:
        """Give a list of tables; empty if it is not there."""
        self._asked.add(key)
        value = self._data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
            raise self.error(f'"{key}" must be a list of tables')
        self._require_few(key, value)
        inner = self._inner(key)
        return tuple(
            Table(v, source=self.source, place=f"{inner} {number}")
            for number, v in enumerate(value, start=1)
        )

    def all_values(self) -> dict[str, Any]:
        """Give the whole table, for a reader that checks the keys itself."""
        self._asked.update(self._data)
        return {key: _cleaned(value) for key, value in self._data.items()}

    def parsed(self, key: str, parse: Callable[[str], T], default: T) -> T:
        """Give a text turned into something by a function that raises ValueError."""
        if not self.has(key):
            return default
        text = self.need(key, str)
        try:
            return parse(text)
        except ValueError as error:
            raise self.error(f'{key} = "{text}" cannot be used: {error}') from error

    def finish(self) -> None:
        """Report a key nobody asked for.

        Raises
        ------
        LessonError
            If there is one, with the nearest key that means something.
        """
        for key in self._data:
            if key not in self._asked:
                raise self.error(
                    f'the key "{key}" means nothing here', near(key, self._asked)
                )

    def _inner(self, key: str) -> str:
        return f"{self._place}.{key}" if self._place else key

    def _typed(self, key: str, value: Any, kind: type[T]) -> T:
        # 120 is as good a tempo as 120.0; TOML tells them apart, teachers do not.
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.error(f'"{key}" must be {_KIND_WORDS[kind]}, not {value!r}')
        return cast(T, _cleaned(value))

    def _require_few(self, key: str, rows: list[Any]) -> None:
        if len(rows) > MAX_ROWS:
            raise self.error(
                f'"{key}" has {len(rows)} entries', f"{MAX_ROWS} are the most that count"
            )


def _cleaned(value: Any) -> Any:
    """Take control signs out of every text in a value."""
    if isinstance(value, str):
        return without_controls(value)
    if isinstance(value, list):
        return [_cleaned(one) for one in value]
    if isinstance(value, dict):
        return {key: _cleaned(one) for key, one in value.items()}
    return value
