"""Editors of a short list: rows with a few fields each, added, removed and moved.

Messages from the browser, besides those of every editor: ``{"rows": [{name: text}, ...]}``,
the whole list as it stands there, and ``{"field": {name: text}}`` for a value beside it.
What cannot be used is kept in the widget with a sentence that says why, and not saved.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import traitlets

from kit.authoring.history import Version
from kit.authoring.settings_edits import FILE, SettingsEdits
from kit.authoring.store import versions
from kit.errors import KitError
from kit.widgets._assets import script
from kit.widgets.editors._editing import EditorView

__all__ = ["RowsView", "column", "reason_of"]

MAX_ROWS = 64
MAX_TEXT = 120


def column(
    name: str, label: str, kind: str = "text", choices: Sequence[tuple[str, str]] = ()
) -> dict[str, Any]:
    """Describe a field of a row: a ``text``, a ``number``, or a ``choice``."""
    return {
        "name": name,
        "label": label,
        "kind": kind,
        "choices": [list(c) for c in choices],
    }


class RowsView(EditorView):
    """The base of editors of a list in lesson.toml.

    Subclasses say which fields there are, how rows become values of the file and back, and
    what follows from them.
    """

    _esm = script("choosers", "editing", "editor")

    columns: Any = traitlets.List().tag(sync=True)
    rows: Any = traitlets.List().tag(sync=True)
    fields: Any = traitlets.List().tag(sync=True)
    """Values beside the list: name, label, kind, choices and value."""
    empty_row: Any = traitlets.Dict().tag(sync=True)
    reset_words = traitlets.Unicode().tag(sync=True)
    """What a button says that empties the list; no button if empty."""

    _waiting: list[dict[str, str]] | None = None
    """Rows that cannot be used yet."""

    @property
    @abstractmethod
    def edits(self) -> SettingsEdits:
        """The values of the file."""

    @abstractmethod
    def rows_now(self) -> list[dict[str, str]]:
        """Give the values of the file as rows of texts."""

    def fields_now(self) -> list[dict[str, Any]]:
        """Give the values beside the list."""
        return []

    @abstractmethod
    def read_rows(self, rows: list[dict[str, str]]) -> Mapping[str, Any]:
        """Turn rows into values of the file.

        Raises
        ------
        KitError
            If they make no sense.
        """

    def read_field(self, name: str, text: str) -> Mapping[str, Any]:  # noqa: ARG002
        """Turn a value beside the list into values of the file.

        Raises
        ------
        ValueError
            If nothing of that name stands beside the list.
        """
        raise ValueError(f"no value {name!r} stands beside the list")

    @abstractmethod
    def check(self, values: Mapping[str, Any]) -> None:
        """Make sure that the lesson works with these values.

        Raises
        ------
        KitError
            If it does not; they are not saved then.
        """

    def actions(self) -> Mapping[str, Callable[[Any], None]]:
        """Give what the browser may ask for."""
        return {**super().actions(), "rows": self.set_rows, "field": self._set_field}

    def set_rows(self, rows: Any) -> None:
        """Take a list over and save it, if it can be used.

        Parameters
        ----------
        rows : list of dict of str
            Texts by field name; a field left out counts as empty.
        """
        if not isinstance(rows, list) or len(rows) > MAX_ROWS:
            return
        names = [one["name"] for one in self.columns]
        clean = [
            {name: str(row.get(name, "")).strip()[:MAX_TEXT] for name in names}
            for row in rows
            if isinstance(row, dict)
        ]
        self._waiting = clean
        with self.hold_sync():
            self.rows = clean
            self.status = "Not saved yet"
            # Refused or not, there is now something to take back.
            self.can_undo = True
        self._take(self.read_rows(clean))

    def _set_field(self, wish: Any) -> None:
        if isinstance(wish, dict) and len(wish) == 1:
            (name, text), *_ = wish.items()
            if name in [one["name"] for one in self.fields]:
                self._take(self.read_field(str(name), str(text).strip()[:MAX_TEXT]))

    def _take(self, values: Mapping[str, Any]) -> None:
        self.check({**self.edits.values, **values})
        self.edits.change(values)
        self._waiting = None
        self._show()
        self.save()

    def undo(self) -> None:
        """Take the last change back, or drop rows that could not be used, and save."""
        if self._waiting is not None:
            self._waiting = None
            self._show()
            self.status = "Back to what is saved"
        elif self.edits.undo():
            self._show()
            self.save()

    def redo(self) -> None:
        """Make the change again that was undone last, and save."""
        if self.edits.redo():
            self._show()
            self.save()

    def save(self, *, anyway: bool = False) -> None:
        """Write the values into lesson.toml."""
        self.edits.save(anyway=anyway)
        self.saved(self.edits.file)

    def load(self) -> None:
        """Take over what lesson.toml says now."""
        self.edits.load()
        self._waiting = None
        self._show()

    def versions(self) -> tuple[Version, ...]:
        """Give the earlier versions of lesson.toml."""
        return versions(self.lesson.folder, FILE)

    def _editor(self) -> dict[str, Any]:
        """Give the traits of list and history."""
        return {
            "rows": self._waiting if self._waiting is not None else self.rows_now(),
            "fields": self.fields_now(),
            "can_undo": self.edits.can_undo or self._waiting is not None,
            "can_redo": self.edits.can_redo,
            "past": self.past_words(),
        }

    def _drawn(self) -> dict[str, Any]:
        return {**super()._drawn(), **self._editor()}

    def _show(self) -> None:
        with self.hold_sync():
            for name, value in self._drawn().items():
                self.set_trait(name, value)

    def _on_edition(self, _: Any) -> None:
        """Follow the file, and draw anew."""

        def go_on() -> None:
            self.edits.refresh()
            self._show()

        before = self.problem
        self.guarded(go_on)
        # A sentence about rows that wait to be mended stays until they are.
        if self._waiting is not None and not self.problem:
            self.problem = before


def reason_of(error: KitError) -> str:
    """Word an error for a list of warnings, without its full stop."""
    return str(error).rstrip(".")
