"""Which parts of a level's sheet can be asked for by name?

Conventions
-----------
* ``A`` is the first A section, ``A2`` the second as played; ``head`` and ``solo`` are the
  two halves of a sheet with a written solo. Nothing said means the whole sheet.
* A stretch is a pair of *indices* of the sheet, both included; what is printed twice
  because of a repeat sign is listed once.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from kit.errors import LevelError
from kit.form.sections import Form
from kit.form.wording import bars_words, ordinal
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.tune.model import Tune

__all__ = [
    "SIZE_NAMES",
    "Stretch",
    "bars_from",
    "level_or_first",
    "printed_section",
    "section_names",
    "stretch_of",
    "stretches",
]

SIZE_NAMES = ("small", "normal", "large")
"""How big an excerpt is drawn in the notebook."""
_BARS = re.compile(r"(\d{1,4})-(\d{1,4})")


@dataclass(frozen=True, slots=True)
class Stretch:
    """Some bars of a sheet: how they are asked for, what they are called and where."""

    name: str
    title: str
    first: int
    last: int


def stretches(level: Level) -> tuple[Stretch, ...]:
    """List what can be asked for, the whole sheet first (its name is empty)."""
    found = [_stretch(level, "", "all", 0, len(level.sheet.bars) - 1)]
    if level.solo is not None:
        found.append(_stretch(level, "head", "head", 0, level.solo[0] - 1))
    found.extend(_sections(level))
    if level.solo is not None:
        start, count = level.solo
        found.append(_stretch(level, "solo", "written solo", start, start + count - 1))
    return tuple(found)


def stretch_of(
    level: Level, *, section: str | None = None, bars: tuple[int, int] | None = None
) -> Stretch:
    """Find a stretch by the name of a section or by printed bar numbers.

    Raises
    ------
    LevelError
        If the level has no such section or bars.
    ValueError
        If both are given.
    """
    if section and bars:
        raise ValueError("ask for a section or for bars, not for both")
    if bars is not None:
        return _numbered(level, *bars)
    known = {stretch.name: stretch for stretch in stretches(level)}
    # A section behind a repeat sign is printed once: A2 is then where A is.
    known |= {name: known[same] for name, same in _aliases(level).items()}
    if (section or "") not in known:
        names = ", ".join(name for name in known if name)
        raise LevelError(
            f'there is no section "{section}"',
            file=f"{level.sheet.source or level.name}",
            remedy=f"choose from {names}",
        )
    return known[section or ""]


def bars_from(level: Level, text: str) -> tuple[int, int] | None:
    """Read ``5-8``; None if the level's sheet has no such bars in this order.

    Parameters
    ----------
    level : Level
        Whose sheet is meant.
    text : str
        Two printed numbers with a hyphen.

    Returns
    -------
    (int, int) or None
        First and last printed number.
    """
    match = _BARS.fullmatch(text)
    numbers = {bar.number for bar in level.sheet.bars}
    if match is None or not {int(match[1]), int(match[2])} <= numbers:
        return None
    first, last = int(match[1]), int(match[2])
    return (first, last) if first <= last else None


def section_names(form: Form) -> tuple[str, ...]:
    """Name the sections as they are asked for: ``A``, ``A2``, ``B``, ``A3``."""
    names = []
    for place, section in enumerate(form.sections):
        time = form.occurrence(place)
        names.append(section.label if time == 1 else f"{section.label}{time}")
    return tuple(names)


def printed_section(level: Level, name: str) -> str | None:
    """Give the name under which a level's sheet prints a section, the whole for ``""``.

    Behind a repeat sign ``A2`` is printed where ``A`` is. None if there is no such section.
    """
    return _aliases(level).get(name) if name else ""


def level_or_first(lesson: Lesson, level: str | None) -> str:
    """Give the level's name, or the first level's if none is named."""
    return level or lesson.level_names[0]


def _numbered(level: Level, first: int, last: int) -> Stretch:
    sheet = level.sheet
    numbers = [bar.number for bar in sheet.bars]
    for number in (first, last):
        if number not in numbers:
            raise LevelError(
                f"there is no bar {number}",
                file=sheet.source or level.name,
                remedy=f"choose from {min(numbers)} to {max(numbers)}",
            )
    start, end = sorted(
        (numbers.index(first), len(numbers) - 1 - numbers[::-1].index(last))
    )
    return Stretch("", bars_words(_printed(sheet, start, end)), start, end)


def _sections(level: Level) -> list[Stretch]:
    found: list[Stretch] = []
    taken: set[tuple[int, int]] = set()
    several = _several(level)
    for place, name in enumerate(section_names(level.form)):
        first, last = _span(level, place)
        if (first, last) in taken:
            continue
        taken.add((first, last))
        label = level.form.sections[place].label
        time = level.form.occurrence(place)
        title = f"{label}, {ordinal(time)} time" if label in several else label
        found.append(_stretch(level, name, title, first, last))
    return _without_false_counts(level, found)


def _without_false_counts(level: Level, found: list[Stretch]) -> list[Stretch]:
    """Say "A" and not "A, first time" where the second time is the same printed bars."""
    shown = [stretch.name.rstrip("0123456789") for stretch in found]
    return [
        stretch
        if shown.count(name) > 1
        else _stretch(level, stretch.name, name, stretch.first, stretch.last)
        for stretch, name in zip(found, shown, strict=True)
    ]


def _aliases(level: Level) -> dict[str, str]:
    by_span: dict[tuple[int, int], str] = {}
    return {
        name: by_span.setdefault(_span(level, place), name)
        for place, name in enumerate(section_names(level.form))
    }


def _several(level: Level) -> set[str]:
    labels = [section.label for section in level.form.sections]
    return {label for label in labels if labels.count(label) > 1}


def _span(level: Level, place: int) -> tuple[int, int]:
    section = level.form.sections[place]
    start = section.first if section.pickup is None else section.pickup
    indices = level.order[start : section.last + 1]
    return min(indices), max(indices)


def _stretch(level: Level, name: str, title: str, first: int, last: int) -> Stretch:
    where = bars_words(_printed(level.sheet, first, last))
    return Stretch(name, f"{title}, {where}", first, last)


def _printed(sheet: Tune, first: int, last: int) -> list[int]:
    bars = sheet.bars[first : last + 1]
    return [bar.number for bar in bars if not bar.pickup] or [bars[0].number]
