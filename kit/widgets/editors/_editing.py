"""What do the widgets that change a lesson have in common?

An `EditorView` saves each change at once, keeps a stack to undo it, and offers the file's
earlier versions. If the file has changed on disk since it was read (another notebook, a
text editor) nothing is written: the teacher is told, and chooses which of the two to keep.

Messages from the browser, besides those of every view: ``{"undo": true}``,
``{"redo": true}``, ``{"settle": "load" | "keep"}`` after a conflict,
``{"restore": number}`` for an earlier version.

What an editor shows is for the teacher: its static form bears no private type, so that no
exporter puts it on a page.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Mapping
from typing import Any

import traitlets

from kit.authoring.history import Version
from kit.authoring.level_edits import LevelEdits
from kit.authoring.store import restore
from kit.errors import ConflictError, KitError
from kit.figures.figure import FIGURE_MIME
from kit.lesson.lesson import Lesson
from kit.widgets._assets import style
from kit.widgets._quiet import when_quiet
from kit.widgets._state import state_of
from kit.widgets._view import LessonView

__all__ = ["EditorView", "level_edits_of"]

VERSIONS_SHOWN = 12

_EDITS: dict[Lesson, dict[str, LevelEdits]] = {}


def level_edits_of(lesson: Lesson, level: str) -> LevelEdits:
    """Give the edits of a level, the same for every widget of this lesson object.

    Raises
    ------
    LessonError
        As `LevelEdits`.
    """
    open_ones = _EDITS.setdefault(lesson, {})
    if level not in open_ones:
        open_ones[level] = LevelEdits(lesson, level)
    return open_ones[level]


class EditorView(LessonView):
    """The base of the editors: undo, saving, conflicts and earlier versions."""

    _css = style("editor")

    status = traitlets.Unicode().tag(sync=True)
    """What became of the last change, in a few words."""
    conflict = traitlets.Unicode().tag(sync=True)
    """Why nothing was written; empty if all is well."""
    can_undo = traitlets.Bool(default_value=False).tag(sync=True)
    can_redo = traitlets.Bool(default_value=False).tag(sync=True)
    past: Any = traitlets.List().tag(sync=True)
    """Earlier versions of the file, in words, the newest first."""

    @abstractmethod
    def undo(self) -> None:
        """Take the last change back."""

    @abstractmethod
    def redo(self) -> None:
        """Make the change again that was taken back last."""

    @abstractmethod
    def save(self, *, anyway: bool = False) -> None:
        """Write the file; `anyway` even if it has changed on disk."""

    @abstractmethod
    def load(self) -> None:
        """Take over what the file says now."""

    @abstractmethod
    def versions(self) -> tuple[Version, ...]:
        """Give the earlier versions of the file, the newest first."""

    def static_form(self) -> dict[str, Any]:
        """Give what is saved in the notebook: HTML and plain text, for the teacher only."""
        bundle = super().static_form()
        del bundle[FIGURE_MIME]
        return bundle

    def actions(self) -> Mapping[str, Callable[[Any], None]]:
        """Give what the browser may ask for, by the name of the message."""
        return {
            "undo": lambda _: self.undo(),
            "redo": lambda _: self.redo(),
            "settle": self._settle_conflict,
            "restore": self._restore,
        }

    def saved(self, file: str, *, words: str = "Saved") -> None:
        """Tell what was written, and let the lesson's other widgets know."""
        self.conflict = ""
        self.status = f"{words} in {file}"
        self._list_past()
        self._announce()

    def guarded(self, action: Callable[[], None]) -> None:
        """Do something; what goes wrong becomes a sentence in the widget."""
        self.problem = ""
        try:
            action()
        except ConflictError as error:
            self.conflict = str(error)
            self.status = "Not saved"
        except KitError as error:
            self.problem = str(error)
            self.status = ""

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if isinstance(content, dict) and len(content) == 1:
            (name, value), *_ = content.items()
            action = self.actions().get(name) if isinstance(name, str) else None
            if action is not None:
                self.guarded(lambda: action(value))
                return
        super()._on_message(widget, content, buffers)

    def _settle_conflict(self, choice: Any) -> None:
        if choice == "keep":
            self.save(anyway=True)
        elif choice == "load":
            self.load()
            self.conflict = ""
            self.status = "Loaded what the file says now"
            self._list_past()
            self._announce()

    def _restore(self, number: Any) -> None:
        known = self.versions()
        if isinstance(number, int) and 0 <= number < len(known):
            restore(known[number], folder=self.lesson.folder)
            self.load()
            self.status = f"Brought back the version of {_moment(known[number])}"
            self._list_past()
            self._announce()

    def _list_past(self) -> None:
        self.past = self.past_words()

    def past_words(self) -> list[str]:
        """Give the moments of the earlier versions."""
        return [_moment(version) for version in self.versions()[:VERSIONS_SHOWN]]

    def _announce(self) -> None:
        """Read the lesson anew and tell its widgets, once it is quiet."""
        when_quiet(self.lesson, self._tell)

    def _tell(self) -> None:
        try:
            self.lesson.reread()
        except KitError as error:
            self.problem = str(error)
            return
        state_of(self.lesson).edition += 1


def _moment(version: Version) -> str:
    """Say when a version was replaced, in the teacher's own time."""
    return version.replaced.astimezone().strftime("%d %b %Y, %H:%M:%S")
