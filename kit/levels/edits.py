"""Which edits are there, and what becomes of a tune when a list of them is applied?

The table `OPERATIONS` is the registry: the name in a level file to what it does. To add an
edit, write an `Operation` in its family's module; it appears here by itself.

Edits are applied in order; each sees the music the one before has left. What cannot be
applied is an error with file, bar and reason: `apply_edits` stops at the first,
`apply_edits_reporting` goes on and hands all of them back.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from difflib import get_close_matches
from fractions import Fraction

from kit.errors import LevelError
from kit.levels import (
    articulation,
    harmony,
    ornaments,
    pitches,
    rhythm,
)
from kit.levels._music import Music
from kit.levels._window import Ground, Reach, cut_out, put_back, window_around
from kit.levels.edit import Edit, Operation, Option, Site, place_of
from kit.levels.values import read_value
from kit.tune.model import Tune

__all__ = [
    "OPERATIONS",
    "Editing",
    "apply_edit",
    "apply_edits",
    "apply_edits_reporting",
    "check_edit",
    "family_of",
]

_FAMILIES = {
    "rhythm": rhythm.OPERATIONS,
    "ornaments": ornaments.OPERATIONS,
    "pitches": pitches.OPERATIONS,
    "articulation": articulation.OPERATIONS,
    "harmony": harmony.OPERATIONS,
}
OPERATIONS: dict[str, Operation] = {
    operation.name: operation for family in _FAMILIES.values() for operation in family
}
_FAMILY_OF = {
    operation.name: name for name, family in _FAMILIES.items() for operation in family
}


def family_of(name: str) -> str:
    """Give the family of an edit: rhythm, ornaments, pitches, articulation or harmony.

    Raises
    ------
    KeyError
        If there is no such edit.
    """
    return _FAMILY_OF[name]


def check_edit(edit: Edit) -> Operation:
    """Check an edit's name and options without any music, and give its operation.

    Raises
    ------
    LevelError
        For an unknown name, an unknown or missing option, or a value that will not do.
    """
    operation = OPERATIONS.get(edit.do)
    if operation is None:
        near = get_close_matches(edit.do, OPERATIONS, n=3)
        choices = " or ".join(f'"{name}"' for name in near) or ", ".join(OPERATIONS)
        raise LevelError(
            f'there is no edit "{edit.do}"',
            bar=edit.bar,
            remedy=f"did you mean {choices}?".rstrip("?")
            if near
            else f"use one of {choices}",
        )
    for name, value in edit.options:
        option = operation.options.get(name)
        if option is None:
            known = ", ".join(operation.options) or "no options"
            raise LevelError(
                f'"{edit.do}" has no option "{name}"',
                bar=edit.bar,
                remedy=f"it takes {known}",
            )
        problem = option.problem(value)
        if problem:
            raise LevelError(
                f'"{name}" of "{edit.do}" will not do: {problem}', bar=edit.bar
            )
    for name, option in operation.options.items():
        if option.default is None and edit.option(name) is None:
            raise LevelError(
                f'"{edit.do}" needs "{name}"',
                bar=edit.bar,
                remedy=f"add {name} to the edit",
            )
    return operation


def apply_edit(tune: Tune, edit: Edit) -> Tune:
    """Apply one edit.

    Raises
    ------
    LevelError
        If the music does not allow it.
    """
    return Editing(tune).apply(edit).tune


def apply_edits(tune: Tune, edits: Sequence[Edit], source: str = "") -> Tune:
    """Apply edits in order.

    Parameters
    ----------
    tune : Tune
        The level they are written over.
    edits : sequence of Edit
        In order.
    source : str
        The level file, for messages.

    Raises
    ------
    LevelError
        At the first edit that the music does not allow.
    """
    music = Editing(tune)
    for edit in edits:
        try:
            music = music.apply(edit)
        except LevelError as error:
            raise error.within(file=source or None) from error.__cause__
    return music.tune


def apply_edits_reporting(
    tune: Tune, edits: Sequence[Edit], source: str = ""
) -> tuple[Tune, tuple[LevelError, ...]]:
    """Apply what can be applied, and give the errors of the edits that cannot.

    Parameters
    ----------
    tune : Tune
        The level below.
    edits : sequence of Edit
        In order; one that cannot be applied is passed over.
    source : str
        The level file, for messages.

    Returns
    -------
    (Tune, tuple of LevelError)
        The tune with the other edits, and an error for each that is missing, in order.
    """
    errors: list[LevelError] = []
    music = Editing(tune)
    for edit in edits:
        try:
            music = music.apply(edit)
        except LevelError as error:
            errors.append(error.within(file=source or None))
    return music.tune, tuple(errors)


class Editing:
    """A tune to which one edit after another is applied; each gives a new one.

    `first` and `last` are the indices of the bars that the latest edit has changed,
    `new_chords` says whether it has changed chords.
    """

    def __init__(self, tune: Tune) -> None:
        self.tune = tune
        self.ground = Ground(tune)
        self.first, self.last = 0, -1
        self.new_chords = False
        self._windows: dict[tuple[int, int], Music] = {}

    def apply(self, edit: Edit) -> Editing:
        """Apply an edit.

        Raises
        ------
        LevelError
            If the music does not allow it; the sentence speaks of the whole tune.
        """
        operation = check_edit(edit)
        done = self.try_out(edit)
        if done is not None:
            return done
        try:
            index, at = place_of(self.tune, self.ground, edit)
            site = Site(Music.of(self.tune), edit, operation.options, index, at)
            return self._after(operation.apply(site), 0, len(self.tune.bars) - 1)
        except LevelError as error:
            raise error.within(bar=edit.bar) from error.__cause__

    def try_out(self, edit: Edit) -> Editing | None:
        """Apply an edit of a known kind; None if the music does not allow it."""
        operation = OPERATIONS[edit.do]
        try:
            index, at = place_of(self.tune, self.ground, edit)
            reach = _reach(edit, operation)
            first, last = window_around(self.tune, self.ground, index, at, reach)
            site = Site(
                self._window(first, last),
                edit,
                operation.options,
                index - first,
                at - self.ground.starts[first],
            )
            window = operation.apply(site)
        except LevelError:
            return None
        return self._after(put_back(self.tune, window, first), first, last)

    def _window(self, first: int, last: int) -> Music:
        """Cut a window out; many edits may be tried on the same one."""
        found = self._windows.get((first, last))
        if found is None:
            found = self._windows[first, last] = Music.of(cut_out(self.tune, first, last))
        return found

    def _after(self, tune: Tune, first: int, last: int) -> Editing:
        """Give what has become of the music; nothing has changed outside two bars."""
        after = copy(self)
        after.tune = tune
        after._windows = {}
        changed = [
            index
            for index in range(first, last + 1)
            if tune.bars[index] is not self.tune.bars[index]
        ]
        after.first, after.last = (
            (changed[0], changed[-1]) if changed else (first, first - 1)
        )
        after.new_chords = any(
            tune.bars[index].chords is not self.tune.bars[index].chords for index in changed
        )
        return after

    def heard(self, tune: Tune) -> range:
        """Give the bars of a later tune in which the latest edit is heard.

        A new chord holds until the next one.
        """
        last = self.last
        held = self.new_chords
        while held and last < len(tune.bars) - 1:
            last += 1
            held = not tune.bars[last].chords
        return range(self.first, last + 1)


def _reach(edit: Edit, operation: Operation) -> Reach:
    """Say how far an edit of a kind may look."""

    def count(name: str) -> int:
        value = edit.option(name) or operation.options[name].default or 1
        return int(value)

    if family_of(edit.do) == "harmony":
        by = edit.option("by") or operation.options.get("by", Option("text", "")).default
        return Reach(back=read_value(str(by)) if by else Fraction(0), to_chord=True)
    options = operation.options
    return Reach(
        # A fill looks for the next note only; its count is of notes that are to come.
        notes=count("notes") if operation.needs_note and "notes" in options else 1,
        bars=count("bars") if "bars" in options else 1,
    )
