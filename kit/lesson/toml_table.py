"""Read a TOML table key by key, with errors a teacher can act on.

Every key has to be asked for; `Table.finish` reports the ones nobody asked for, because a
misspelt key that is silently ignored costs an evening.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Callable, Iterable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, TypeVar

from kit.errors import LessonError

__all__ = ["Table", "near", "read_toml"]

MAX_TOML_BYTES = 1_000_000
"""A lesson.toml is some kilobytes; a megabyte of it is a mistake or an attack."""

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
        If it is missing, too large, not UTF-8 or not TOML (with the line).
    """
    try:
        if path.stat().st_size > MAX_TOML_BYTES:
            raise LessonError("the file is larger than a megabyte", file=source)
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as error:
        raise LessonError("there is no such file", file=source) from error
    except UnicodeDecodeError as error:
        raise LessonError(
            "the file is not UTF-8 text", file=source, remedy="save it as UTF-8"
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise LessonError(f"this is not valid TOML: {error}", file=source) from error


def near(name: str, choices: Iterable[str]) -> str:
    """Word a remedy for an unknown name from the real choices."""
    known = sorted(choices)
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
    if close:
        return f"did you mean {close[0]}?"
    return f"choose from {', '.join(known)}" if known else "there are none to choose from"


class Table:
    """A table of a TOML file and where it stands, for messages."""

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
        return tuple(value)

    def numbers(self, key: str, default: tuple[int, ...] = ()) -> tuple[int, ...]:
        """Give a list of whole numbers.

        Raises
        ------
        LessonError
            If it is anything else.
        """
        self._asked.add(key)
        value = self._data.get(key, list(default))
        if not isinstance(value, list) or not all(type(v) is int for v in value):
            raise self.error(
                f'"{key}" must be a list of whole numbers', f"write {key} = [100]"
            )
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
        inner = self._inner(key)
        return tuple(
            Table(v, source=self.source, place=f"{inner} {number}")
            for number, v in enumerate(value, start=1)
        )

    def all_values(self) -> dict[str, Any]:
        """Give the whole table, for a reader that checks the keys itself."""
        self._asked.update(self._data)
        return dict(self._data)

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
        if kind is float and isinstance(value, int) and not isinstance(value, bool):
            value = float(value)
        if not isinstance(value, kind) or (isinstance(value, bool) and kind is not bool):
            raise self.error(f'"{key}" must be {_KIND_WORDS[kind]}, not {value!r}')
        return value
