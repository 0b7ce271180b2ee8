"""What do the bench and the changes editor have in common? They edit a level, and save it.

Both work on the same `LevelEdits` of a lesson, so that one undoes what the other did.
An edit is first shown (`preview`), then taken over (`apply`) and saved at once.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Mapping
from typing import Any

from kit.authoring.history import Version
from kit.authoring.level_edits import LevelEdits
from kit.authoring.store import versions
from kit.errors import LevelError
from kit.instruments.part import Part
from kit.instruments.transposition import write_part
from kit.lesson.lesson import Lesson
from kit.levels.edit import Edit
from kit.tune.model import Tune
from kit.widgets._choosers import Chooser
from kit.widgets.editors._editing import EditorView, level_edits_of

__all__ = ["LevelEditorView", "edited_level", "edited_level_chooser"]

AUDIO_MIME = "audio/mpeg"
BARS_HEARD = 2
"""The bar chosen, and the next, so that one hears where it leads."""


def editable_levels(lesson: Lesson) -> tuple[str, ...]:
    """Give the levels that are or can be made of edits.

    Raises
    ------
    LevelError
        If all levels are written out in notation.
    """
    names = tuple(one.name for one in lesson.settings.levels if not one.notation)
    if not names:
        raise LevelError(
            "every level is written out in notation, so there are no edits to work on",
            file=lesson.settings.source,
            remedy='take "notation" out of a level, or change it in your notation program',
        )
    return names


def edited_level(lesson: Lesson) -> str:
    """Give the level that an editor begins with: the first that has edits."""
    names = editable_levels(lesson)
    with_edits = [one.name for one in lesson.settings.levels if one.edits]
    return with_edits[0] if with_edits else names[min(1, len(names) - 1)]


def edited_level_chooser(lesson: Lesson) -> Chooser:
    """Offer the levels that can be edited."""
    names = editable_levels(lesson)
    rows = tuple((one.name, one.title) for one in lesson.settings.levels)
    return Chooser("level", "Level", tuple(row for row in rows if row[0] in names))


class LevelEditorView(EditorView):
    """The base of editors of a level's edits.

    Subclasses give what they show (`shown`), the edits of the bar chosen (`edits_here`),
    the bar to be heard (`bar_heard`) and what edit a wish of the browser means (`read`).
    """

    _preview: Edit | None = None
    _octave: tuple[tuple[str, str], int] | None = None

    @property
    def edits(self) -> LevelEdits:
        """The edits of the level chosen."""
        return level_edits_of(self.lesson, self.chosen["level"])

    @abstractmethod
    def shown(self) -> dict[str, Any]:
        """Give the traits that depend on edits and choice."""

    @abstractmethod
    def edits_here(self) -> list[dict[str, Any]]:
        """Give the edits of the bar chosen: place in the list, and words."""

    @abstractmethod
    def bar_heard(self) -> int:
        """Give the index of the bar from which one listens."""

    @abstractmethod
    def read(self, wish: Any) -> Edit:
        """Make an edit of what the browser asks for.

        Raises
        ------
        LevelError
            If it cannot be understood.
        """

    def actions(self) -> Mapping[str, Callable[[Any], None]]:
        """Give what the browser may ask for."""
        return {
            **super().actions(),
            "preview": lambda wish: self.preview(self.read(wish)),
            "cancel": lambda _: self.cancel(),
            "apply": lambda wish: self.apply(self.read(wish)),
            "take_out": self.take_out,
            "listen": self.listen,
        }

    def preview(self, edit: Edit) -> None:
        """Show what an edit would do.

        Raises
        ------
        LevelError
            If the music does not allow it; what was shown stays.
        """
        self.edits.preview(edit)
        self._preview = edit
        self.show()

    def cancel(self) -> None:
        """Take the preview back."""
        self._preview = None
        self.show()

    def apply(self, edit: Edit) -> None:
        """Take an edit over, draw what has become of it, and save the level's file.

        Raises
        ------
        LevelError
            If the music does not allow it; nothing changes then.
        ConflictError
            If the file has changed on disk; the edit is applied here, and not saved.
        """
        before = self.edits.head
        self.edits.apply(edit)
        self.changed(before)
        self.save()

    def take_out(self, number: Any) -> None:
        """Take an edit out of the level's list, by its place there."""
        if isinstance(number, int) and 0 <= number < len(self.edits.edits):
            before = self.edits.head
            self.edits.take_out(number)
            self.changed(before)
            self.save()

    def undo(self) -> None:
        """Take the last change back and save."""
        before = self.edits.head
        if self.edits.undo():
            self.changed(before)
            self.save()

    def redo(self) -> None:
        """Make the change again that was undone last, and save."""
        before = self.edits.head
        if self.edits.redo():
            self.changed(before)
            self.save()

    def save(self, *, anyway: bool = False) -> None:
        """Write the level's file."""
        self.edits.save(anyway=anyway)
        # Saving may have moved the newest edit up to its bar.
        self.set_trait("here", self.edits_here())
        self.saved(self.edits.file)

    def load(self) -> None:
        """Take over what the level's file says now."""
        before = self.edits.head
        self.edits.load()
        self.changed(before)

    def versions(self) -> tuple[Version, ...]:
        """Give the earlier versions of the level's file."""
        return versions(self.lesson.folder, self.edits.file.partition("/")[2])

    def listen(self, which: Any) -> None:
        """Play the bar chosen and the next: ``source`` or ``level``, a preview included."""
        if which not in ("source", "level"):
            return
        # Band and synthesiser are needed only once somebody listens.
        from kit.tracks.listen import bars_audio  # noqa: PLC0415

        tune = self.edits.source if which == "source" else self.head_shown()
        first = self.bar_heard()
        last = min(first + BARS_HEARD - 1, len(tune.bars) - 1)
        if first == last and tune.bars[first].pickup:
            first -= 1
        audio = bars_audio(self.lesson, self.chosen["level"], tune, first=first, last=last)
        self.send({"audio": {"which": which, "mime": AUDIO_MIME}}, buffers=[audio.data])

    def choose(self, **values: str) -> None:
        """Choose as the browser does; a preview does not outlast it."""
        self._preview = None
        super().choose(**values)

    def head_shown(self) -> Tune:
        """Give the melody with its changes, the preview applied."""
        if self._preview is None:
            return self.edits.head
        return self.edits.preview(self._preview)

    def written(self, tune: Tune, chosen: Mapping[str, str]) -> Part:
        """Write a version of the level for an instrument, in the lesson's octave for it."""
        slug, level = chosen["instrument"], chosen["level"]
        if self._octave is None or self._octave[0] != (slug, level):
            # Asked once, since the lesson looks at all its levels for the answer.
            self._octave = ((slug, level), self.lesson.part(level, slug).octave_shift)
        instrument = self.lesson.instrument(slug)
        return write_part(tune, instrument, level=level, octave_shift=self._octave[1])

    def history(self) -> dict[str, Any]:
        """Give the traits of undo and of earlier versions."""
        return {
            "can_undo": self.edits.can_undo,
            "can_redo": self.edits.can_redo,
            "past": self.past_words(),
        }

    def show(self, **more: Any) -> None:
        """Send what is shown to the browser, in one message."""
        with self.hold_sync():
            for name, value in (self.shown() | more).items():
                self.set_trait(name, value)

    def changed(self, before: Tune) -> None:  # noqa: ARG002 - for those who mark changes
        """Draw the level anew after a change of its edits."""
        self._preview = None
        self.show()

    def _default(self, name: str) -> str:
        return edited_level(self.lesson) if name == "level" else super()._default(name)

    def _drawn(self) -> dict[str, Any]:
        choosers = [c.to_browser(self.chosen[c.name]) for c in self.offer()]
        return {**self.shown(), "choosers": choosers}

    def _on_edition(self, _: Any) -> None:
        """Draw anew, and leave the choice and what is listed for it as they are."""
        self._octave = None
        self.guarded(self._go_on)

    def _go_on(self) -> None:
        self.edits.refresh()
        self._settle(kept=())
        choosers = [c.to_browser(self.chosen[c.name]) for c in self.offer()]
        self.show(choosers=choosers)
