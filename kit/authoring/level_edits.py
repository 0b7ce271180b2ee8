"""A level's edits while they are being worked on: applied, undone, tidied and saved.

A `LevelEdits` holds the list of edits of one level as a stack of states, each with the head
it leads to. Every change is one state, so undo and redo reach everything, and each state is
one that applies as a whole: an edit that the music does not allow changes nothing.

Conventions
-----------
* A new edit is applied to the music as it stands, behind all others. When it is saved it
  moves up to its bar's place in the list if that gives the very same music.
* Saving writes the level's file through `kit.authoring.store` and leaves the lines of edits
  that stay, and the comments, as they are.
* A level that plays the tune itself gets a file of its own with the first save. A level
  that is written out in notation has no edits to work on.
"""

from __future__ import annotations

from typing import Any

from kit.authoring._toml_edit import set_level_value, set_rows
from kit.authoring.store import Stored, read_stored, write_stored
from kit.errors import LessonError, LevelError
from kit.lesson.lesson import TUNE, Lesson
from kit.lesson.settings import LevelSettings
from kit.lesson.toml_table import near
from kit.levels.edit import Edit
from kit.levels.edits import apply_edit
from kit.levels.file import LevelFile, read_level_file, write_level_file
from kit.reading import toml_of
from kit.tune.model import Tune

__all__ = ["LevelEdits"]

_REMEMBERED = 400
"""Heads kept; each shares the bars that did not change."""

Edits = tuple[Edit, ...]


class LevelEdits:
    """The edits of one level, open for changes.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str
        One of its levels.

    Raises
    ------
    LevelError
        If the level is written out in notation, or its edits do not apply.
    LessonError
        If the lesson has no such level, or a file cannot be used.
    """

    def __init__(self, lesson: Lesson, level: str) -> None:
        self.lesson = lesson
        self.level = level
        settings = _settings_of(lesson, level)
        if settings.notation:
            raise LevelError(
                f'level "{level}" is written out in {settings.notation}, not in edits',
                file=lesson.settings.source,
                remedy="change it in your notation program, or add a level with edits",
            )
        self._is_new = not settings.edits
        self._file_name = settings.edits or f"levels/{level}.toml"
        self._heads: dict[Edits, Tune] = {}
        self._undone: list[Edits] = []
        self._done: list[Edits] = []
        self._newest_is_last = False
        self._read()

    def _read(self) -> None:
        stored = read_stored(self.lesson.folder, self._file_name)
        label = stored.label
        file = LevelFile() if self._is_new else read_level_file(stored.text, source=label)
        source = self._source(file.over)
        heads: dict[Edits, Tune] = {(): source}
        now = source
        for count, edit in enumerate(file.edits, start=1):
            try:
                now = apply_edit(now, edit)
            except LevelError as error:
                raise error.within(file=label) from error
            heads[file.edits[:count]] = now
        self._stored = stored
        self._saved = file.edits
        self.over = file.over
        self.source = source
        self._heads = heads
        self.edits: Edits = file.edits

    def _source(self, over: str) -> Tune:
        return self.lesson.head(over or TUNE, through=(self.level,))

    @property
    def file(self) -> str:
        """The level's file, lesson folder first."""
        return self._stored.label

    @property
    def over_title(self) -> str:
        """What the edits start from, in words."""
        return _settings_of(self.lesson, self.over).title if self.over else "The tune"

    @property
    def head(self) -> Tune:
        """The melody with its changes, all edits applied."""
        return self._head_of(self.edits)

    @property
    def can_undo(self) -> bool:
        """Whether there is a state to go back to."""
        return bool(self._done)

    @property
    def can_redo(self) -> bool:
        """Whether something was undone last."""
        return bool(self._undone)

    @property
    def is_saved(self) -> bool:
        """Whether the file says what is here."""
        return self._saved == self.edits

    def preview(self, edit: Edit) -> Tune:
        """Give the head with one more edit, without taking it over.

        Raises
        ------
        LevelError
            If the music does not allow it.
        """
        return apply_edit(self.head, edit)

    def apply(self, edit: Edit) -> None:
        """Take one more edit over.

        Raises
        ------
        LevelError
            If the music does not allow it; nothing changes then.
        """
        after = (*self.edits, edit)
        self._heads[after] = self.preview(edit)
        self._go(after)
        self._newest_is_last = True

    def take_out(self, place: int) -> None:
        """Take an edit out of the list.

        Raises
        ------
        IndexError
            If there is no such edit.
        LevelError
            If a later edit does not apply without it; nothing changes then.
        """
        if not 0 <= place < len(self.edits):
            raise IndexError(f"there is no edit {place}")
        after = self.edits[:place] + self.edits[place + 1 :]
        try:
            self._head_of(after)
        except LevelError as error:
            error.found = f"a later edit rests on this one: {error.found}"
            error.remedy = "take the later one out first"
            raise
        self._go(after)

    def undo(self) -> bool:
        """Go back one state; say whether there was one."""
        if not self._done:
            return False
        self._undone.append(self.edits)
        self.edits = self._done.pop()
        self._newest_is_last = False
        return True

    def redo(self) -> bool:
        """Take the last undo back; say whether there was one."""
        if not self._undone:
            return False
        self._done.append(self.edits)
        self.edits = self._undone.pop()
        self._newest_is_last = False
        return True

    def save(self, *, anyway: bool = False) -> None:
        """Write the level's file.

        Parameters
        ----------
        anyway : bool
            Write even if it has changed on disk; what it says stays in the history.

        Raises
        ------
        ConflictError
            If it has changed on disk since it was read.
        LessonError
            If it cannot be written.
        """
        self._tidy()
        before = self._stored
        if anyway:
            before = read_stored(before.folder, before.name)
        self._stored = write_stored(before, self._text(before), anyway=anyway)
        if self._is_new:
            self._name_file()
        self._saved = self.edits

    def load(self) -> None:
        """Take over what the file says now; undo goes back to what was here.

        Raises
        ------
        LessonError
            If it cannot be used.
        """
        mine, heads = self.edits, self._heads
        over = self.over
        self._read()
        if over == self.over:
            self._heads = heads | self._heads
            if mine != self.edits:
                self._done.append(mine)
        else:
            self._done.clear()
        self._undone.clear()

    def refresh(self) -> None:
        """Work on with the lesson as it is now, after other files of it have changed.

        Raises
        ------
        LevelError
            If the edits do not apply to the music under them any more.
        """
        source = self._source(self.over)
        if source == self.source:
            return
        self._heads = {(): source}
        self.source = source
        self._done.clear()
        self._undone.clear()
        self._head_of(self.edits)

    def _go(self, after: Edits) -> None:
        self._done.append(self.edits)
        self._undone.clear()
        self._newest_is_last = False
        self.edits = after

    def _head_of(self, edits: Edits) -> Tune:
        """Give the head of a list, from the longest beginning of it that is known."""
        known = len(edits)
        while edits[:known] not in self._heads:
            known -= 1
        now = self._heads[edits[:known]]
        for count in range(known, len(edits)):
            now = apply_edit(now, edits[count])
            self._heads[edits[: count + 1]] = now
        self._forget()
        return now

    def _forget(self) -> None:
        # The empty list and whatever was worked out last stay.
        while len(self._heads) > _REMEMBERED:
            oldest = next(edits for edits in self._heads if edits)
            del self._heads[oldest]

    def _tidy(self) -> None:
        """Move the newest edit up to its bar if the music stays the same."""
        if not self._newest_is_last:
            return
        self._newest_is_last = False
        *others, newest = self.edits
        behind = [place for place, edit in enumerate(others) if edit.bar <= newest.bar]
        place = behind[-1] + 1 if behind else 0
        if place == len(others):
            return
        ordered = (*others[:place], newest, *others[place:])
        head = self.head
        try:
            same = self._head_of(ordered) == head
        except LevelError:
            # A later edit needs the music as it was; the newest stays where it works.
            return
        if same:
            self.edits = ordered

    def _text(self, before: Stored) -> str:
        """Give the file's new text, line by line where the old one can be read."""
        empty = write_level_file(LevelFile(self.over))
        base, known = empty, {}
        if _is_readable(before):
            file = read_level_file(before.text)
            if file.over == self.over:
                base = before.text or empty
                # A row may be written in several ways; the teacher's stays.
                known = dict(zip(file.edits, _rows(base), strict=True))
        rows = _rows(write_level_file(LevelFile(self.over, self.edits)))
        said = [known.get(edit, row) for edit, row in zip(self.edits, rows, strict=True)]
        return set_rows(base, "edits", said, source=before.label)

    def _name_file(self) -> None:
        toml = read_stored(self.lesson.folder, "lesson.toml")
        text = set_level_value(
            toml.text, self.level, "edits", self._file_name, source=toml.label
        )
        write_stored(toml, text)
        self._is_new = False


def _settings_of(lesson: Lesson, level: str) -> LevelSettings:
    for one in lesson.settings.levels:
        if one.name == level:
            return one
    raise LessonError(
        f'there is no level "{level}"',
        file=lesson.settings.source,
        remedy=near(level, lesson.level_names),
    )


def _is_readable(stored: Stored) -> bool:
    """Whether a file can be changed line by line; a broken one is written afresh."""
    try:
        read_level_file(stored.text)
    except LevelError:
        return False
    return True


def _rows(text: str) -> list[dict[str, Any]]:
    """Give the rows of a level file as they stand."""
    rows: list[dict[str, Any]] = toml_of(text).get("edits", [])
    return rows
