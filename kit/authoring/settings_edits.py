"""A few values of lesson.toml while they are being worked on: changed, undone, saved.

A `SettingsEdits` holds some keys of one level (its route, its count-in), or the form marks
of the lesson, as plain data. Saving changes just these keys in the file as it is on disk,
so that changes to other keys, made meanwhile by anyone, stay; only if one of *these* keys
says something else by now is there a conflict.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from kit.authoring._toml_edit import set_level_value, set_sections
from kit.authoring.store import Stored, read_stored, write_stored
from kit.errors import ConflictError, LessonError
from kit.lesson.lesson import Lesson
from kit.lesson.toml_table import Table
from kit.reading import told, toml_of

__all__ = ["FILE", "SettingsEdits"]

FILE = "lesson.toml"
Values = dict[str, Any]


class SettingsEdits:
    """Some keys of lesson.toml, open for changes.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str or None
        Whose keys; None for those at the top of the file.
    keys : tuple of str
        The keys; a key that the file does not have is None here.

    Raises
    ------
    LessonError
        If the file cannot be read, or has no such level.
    """

    def __init__(self, lesson: Lesson, level: str | None, keys: tuple[str, ...]) -> None:
        self._folder = lesson.folder
        self._level = level
        self._keys = keys
        self._done: list[Values] = []
        self._undone: list[Values] = []
        self._seen = self._values_of(self._stored())
        self.values: Values = dict(self._seen)

    @property
    def file(self) -> str:
        """The file, lesson folder first."""
        return f"{self._folder.name}/{FILE}"

    @property
    def can_undo(self) -> bool:
        """Whether there is a state to go back to."""
        return bool(self._done)

    @property
    def can_redo(self) -> bool:
        """Whether something was undone last."""
        return bool(self._undone)

    def change(self, values: Mapping[str, Any]) -> None:
        """Set some of the keys; None takes one out.

        Raises
        ------
        ValueError
            If there is no such key.
        """
        for key in values:
            if key not in self._keys:
                raise ValueError(f"{key!r} is not one of {', '.join(self._keys)}")
        after = {**self.values, **values}
        if after == self.values:
            return
        self._done.append(self.values)
        self._undone.clear()
        self.values = after

    def undo(self) -> bool:
        """Go back one state; say whether there was one."""
        if not self._done:
            return False
        self._undone.append(self.values)
        self.values = self._done.pop()
        return True

    def redo(self) -> bool:
        """Take the last undo back; say whether there was one."""
        if not self._undone:
            return False
        self._done.append(self.values)
        self.values = self._undone.pop()
        return True

    def save(self, *, anyway: bool = False) -> None:
        """Write the keys into the file as it is now.

        Parameters
        ----------
        anyway : bool
            Write even if one of them was changed by someone else meanwhile.

        Raises
        ------
        ConflictError
            If one of the keys says something else on disk than when it was read.
        LessonError
            If the file cannot be changed in these places alone.
        """
        stored = self._stored()
        now = self._values_of(stored)
        if now not in (self._seen, self.values) and not anyway:
            changed = [key for key in self._keys if now[key] != self._seen[key]]
            raise ConflictError(
                f"{' and '.join(changed)} has changed on disk since it was read here",
                file=self.file,
                remedy="load what is there now, or keep yours; "
                "the other one stays in the history",
            )
        text = stored.text
        for key in self._keys:
            if self.values[key] != now[key]:
                text = self._set(text, key)
        write_stored(stored, text)
        self._seen = dict(self.values)

    def load(self) -> None:
        """Take over what the file says now; undo goes back to what was here.

        Raises
        ------
        LessonError
            If the file cannot be read.
        """
        now = self._values_of(self._stored())
        self._seen = dict(now)
        self.change(now)

    def refresh(self) -> None:
        """Follow the file where nothing here waits to be saved.

        Raises
        ------
        LessonError
            If the file cannot be read.
        """
        if self.values == self._seen:
            self.load()

    def _set(self, text: str, key: str) -> str:
        value = self.values[key]
        if self._level is None:
            return set_sections(text, value or (), source=self.file)
        return set_level_value(text, self._level, key, value, source=self.file)

    def _stored(self) -> Stored:
        return read_stored(self._folder, FILE)

    def _values_of(self, stored: Stored) -> Values:
        with told(self.file):
            table = toml_of(stored.text)
        if self._level is not None:
            rows = Table(table, source=self.file).tables("levels")
            levels = [row.all_values() for row in rows]
            mine = [one for one in levels if one.get("name") == self._level]
            if not mine:
                raise LessonError(f'there is no level "{self._level}"', file=self.file)
            table = mine[0]
        return {key: table.get(key) for key in self._keys}
