"""What can be done at a place, with which options, and why not the rest?

Every kind of edit is tried on the music as it stands, with its usual options. What the
music does not allow is listed with the reason that the edit itself gives.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from kit.errors import LevelError
from kit.form.sections import Form
from kit.levels import (
    articulation,
    harmony,
    ornaments,
    pitches,
    rhythm,
)
from kit.levels.edit import Edit, Operation, Option, OptionValue
from kit.levels.edits import OPERATIONS, apply_edit
from kit.levels.suggest import Suggestion, suggestions
from kit.levels.values import VALUES
from kit.tune.model import Tune

__all__ = [
    "FAMILIES",
    "Choice",
    "choices",
    "edit_from",
    "found_suggestions",
    "nearest_first",
]

FAMILIES = {
    "Time": rhythm.OPERATIONS,
    "Ornaments": ornaments.OPERATIONS,
    "Notes": pitches.OPERATIONS,
    "Marks": articulation.OPERATIONS,
    "Changes": harmony.OPERATIONS,
}
SUGGESTIONS_SHOWN = 6
MAX_TEXT = 60


@dataclass(frozen=True, slots=True)
class Choice:
    """An edit that was tried at a place; `reason` says why it will not do, if so."""

    family: str
    operation: Operation
    options: tuple[tuple[str, OptionValue], ...]
    reason: str = ""

    def to_browser(self) -> dict[str, Any]:
        """Give it as plain data."""
        values = dict(self.options)
        return {
            "family": self.family,
            "do": self.operation.name,
            "words": self.operation.words,
            "reason": self.reason,
            "options": [
                _option(name, option, values[name])
                for name, option in self.operation.options.items()
            ],
        }


def choices(
    tune: Tune,
    *,
    bar: int,
    beat: Fraction,
    families: Iterable[str] = tuple(FAMILIES),
    given: Mapping[str, str] | None = None,
) -> tuple[Choice, ...]:
    """Try every edit of some families at a place.

    Parameters
    ----------
    tune : Tune
        The level's melody at concert pitch.
    bar : int
        Printed number.
    beat : Fraction
        Counted from 1.
    families : iterable of str
        Some of `FAMILIES`.
    given : mapping, optional
        By edit, a text to begin with where the edit needs one (``chord``: ``Cm7``).
    """
    texts = given or {}
    return tuple(
        _tried(tune, bar, beat, family, operation, texts.get(operation.name, ""))
        for family in families
        for operation in FAMILIES[family]
    )


def edit_from(bar: int, beat: Fraction, wish: Any) -> Edit:
    """Make an edit of what the browser asks for: ``{"do": name, "options": {...}}``.

    Raises
    ------
    LevelError
        If it is not a known edit with options of the right kinds.
    """
    name = wish.get("do") if isinstance(wish, dict) else None
    options = wish.get("options", {}) if isinstance(wish, dict) else None
    operation = OPERATIONS.get(name) if isinstance(name, str) else None
    if operation is None or not isinstance(options, dict):
        raise LevelError("no edit is chosen", bar=bar, remedy="choose one from the list")
    return Edit(bar, beat, operation.name, tuple(_read(operation, options)))


def found_suggestions(tune: Tune, form: Form, level: str) -> tuple[Suggestion, ...]:
    """List all suggestions for a melody, best first.

    Parameters
    ----------
    tune : Tune
        The melody as it stands.
    form : Form
        Its sections.
    level : str
        ``advanced`` for bolder ones; any other level gets those for an intermediate one.
    """
    return suggestions(
        tune, form, level="advanced" if level == "advanced" else "intermediate"
    )


def nearest_first(
    found: Iterable[Suggestion], numbers: Collection[int], *, near: tuple[int, Fraction]
) -> tuple[Suggestion, ...]:
    """Choose the best suggestions for some bars, those for one place first.

    Parameters
    ----------
    found : iterable of Suggestion
        Best first.
    numbers : collection of int
        Printed bar numbers.
    near : (int, Fraction)
        Printed bar and beat of the place that is looked at.
    """
    wanted = [item for item in found if item.edit.bar in numbers]
    here = [item for item in wanted if (item.edit.bar, item.edit.beat) == near]
    others = [item for item in wanted if item not in here]
    return tuple((here + others)[:SUGGESTIONS_SHOWN])


def _tried(
    tune: Tune, bar: int, beat: Fraction, family: str, operation: Operation, text: str
) -> Choice:
    options = tuple(
        (name, option.default if option.default is not None else text)
        for name, option in operation.options.items()
    )
    reason = ""
    try:
        apply_edit(tune, Edit(bar, beat, operation.name, options))
    except LevelError as error:
        reason = f"{error.found}; {error.remedy}" if error.remedy else error.found
    return Choice(family, operation, options, reason)


def _option(name: str, option: Option, value: OptionValue) -> dict[str, Any]:
    listed = tuple(VALUES) if option.kind == "value" else option.choices
    return {
        "name": name,
        "kind": option.kind,
        "value": value,
        "choices": list(listed),
        "bounds": list(option.bounds),
    }


def _read(
    operation: Operation, options: Mapping[Any, Any]
) -> Iterable[tuple[str, OptionValue]]:
    """Read options, leaving out those that say what goes without saying."""
    for name, option in operation.options.items():
        value = options.get(name, option.default)
        if option.kind == "count" and isinstance(value, str) and value.strip().isdigit():
            value = int(value)
        if isinstance(value, str):
            value = value.strip()[:MAX_TEXT]
        if value is None or isinstance(value, bool) or not isinstance(value, str | int):
            continue
        if value != option.default or name == "by":
            yield name, value
