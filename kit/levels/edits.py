"""Which edits are there, and what becomes of a tune when a list of them is applied?

The table `OPERATIONS` is the registry: the name in a level file to what it does. To add an
edit, write an `Operation` in its family's module; it appears here by itself.

Edits are applied in order; each sees the music the one before has left. What cannot be
applied is an error with file, bar and reason: `apply_edits` stops at the first,
`apply_edits_reporting` goes on and hands all of them back.
"""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

from kit.errors import LevelError
from kit.levels import articulation, harmony, ornaments, pitches, rhythm
from kit.levels.edit import Edit, Operation, Site
from kit.tune.model import Tune

__all__ = [
    "OPERATIONS",
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
    operation = check_edit(edit)
    try:
        return operation.apply(Site.find(tune, edit, operation.options))
    except LevelError as error:
        raise error.within(bar=edit.bar) from error.__cause__


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
    for edit in edits:
        try:
            tune = apply_edit(tune, edit)
        except LevelError as error:
            raise error.within(file=source or None) from error.__cause__
    return tune


def apply_edits_reporting(
    tune: Tune, edits: Sequence[Edit], source: str = ""
) -> tuple[Tune, tuple[LevelError, ...]]:
    """Apply what can be applied, and give the errors of the edits that cannot."""
    errors: list[LevelError] = []
    for edit in edits:
        try:
            tune = apply_edit(tune, edit)
        except LevelError as error:
            errors.append(error.within(file=source or None))
    return tune, tuple(errors)
