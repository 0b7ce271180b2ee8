"""Which sections does a lesson file list by printed bar numbers?"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from kit.errors import LessonError
from kit.form._marks import label_of, pickup_before
from kit.form.sections import Form, Section
from kit.tune.model import Tune

__all__ = ["form_from_ranges"]

_RANGE = re.compile(r"\s*(\d{1,6})\s*(?:[-–]\s*(\d{1,6})\s*)?")


def form_from_ranges(
    played: Tune, ranges: Sequence[Mapping[str, str]], *, source: str = "lesson.toml"
) -> Form:
    """Give the sections that a lesson file lists by printed bar numbers.

    A section begins wherever the tune, as played, comes to the first bar of a range, so
    that one listing serves both passes of a repeat. Where several ranges begin with the
    same bar, they take turns.

    Parameters
    ----------
    played : Tune
        The tune with its repeats written out.
    ranges : sequence of mappings
        Each with ``label`` and ``bars`` (``"1-8"``, printed numbers).
    source : str
        The file, for messages.

    Raises
    ------
    LessonError
        If a range cannot be read, names a bar that is not there, or bars are left over.
    """
    wanted = [_read_range(item, source) for item in ranges]
    numbers = {bar.number for bar in played.bars if not bar.pickup}
    for label, first, last in wanted:
        missing = next((n for n in (first, last) if n not in numbers), None)
        if missing is not None or last < first:
            raise LessonError(
                f"section {label} is given as bars {first}–{last}, and the tune has "
                + ("them in another order" if missing is None else f"no bar {missing}"),
                file=source,
                remedy="use bar numbers as printed",
            )
    return Form(tuple(_range_sections(played, wanted, source)), "ranges")


def _read_range(item: Mapping[str, str], source: str) -> tuple[str, int, int]:
    label, bars = str(item.get("label", "")).strip(), str(item.get("bars", ""))
    match = _RANGE.fullmatch(bars)
    if not label or match is None:
        raise LessonError(
            f"a section is given as label {label!r}, bars {bars!r}",
            file=source,
            remedy='write it like { label = "A", bars = "1-8" }',
        )
    return label, int(match[1]), int(match[2] or match[1])


def _range_sections(
    played: Tune, wanted: Sequence[tuple[str, int, int]], source: str
) -> list[Section]:
    sections: list[Section] = []
    turns: dict[int, int] = {}
    current: tuple[str, int, int] | None = None
    first = last = -1
    for index, bar in enumerate(played.bars):
        if bar.pickup:
            continue
        starting = [item for item in wanted if item[1] == bar.number]
        if starting:
            if current is not None:
                sections.append(_section(played, current[0], first, last))
            turn = turns.get(bar.number, 0)
            turns[bar.number] = turn + 1
            current, first = starting[turn % len(starting)], index
        elif current is None or not current[1] <= bar.number <= current[2]:
            raise LessonError(
                "the bar belongs to no section",
                file=source,
                bar=bar.number,
                remedy="let the sections cover every bar of the tune",
            )
        last = index
    if current is not None:
        sections.append(_section(played, current[0], first, last))
    return sections


def _section(played: Tune, label: str, first: int, last: int) -> Section:
    return Section(label_of(label) or label, first, last, pickup_before(played, first))
