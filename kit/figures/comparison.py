"""What is different from one level to another, in words, numbers and a line of music?

Bars with the same differences are told once, so that a change to every A section reads as
one change. The differences are found by `kit.levels.compare`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from kit.engrave.drawing import engrave_excerpt
from kit.engrave.engraver import PHONE, SCREEN
from kit.figures._page import Asked, in_two_widths
from kit.figures.figure import Figure, draw, markup
from kit.figures.written import length_words, tempo_words, written
from kit.form.wording import bars_words, counted
from kit.instruments.octave_apart import by_octaves, octave_sentence, octaves_apart
from kit.instruments.part import Part
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.levels.compare import Difference, compare
from kit.levels.difficulty import difficulty
from kit.tune.lines import line_starts

__all__ = ["comparison", "levels_beside", "on_page"]

BARS_SHOWN = 4
ROWS_SHOWN = 10
"""A new version differs in nearly every bar; the rest is there to be opened."""
NEW_INK = "#a33c00"
"""Dark orange, 6.4 : 1 on white (WCAG 2.2 asks for 4.5)."""
_PLACE = re.compile(r"bars? [^:]*: ")
_WHOLE_BARS = re.compile(r"(bars? .+) (?:is|are) (new|left out)")


@dataclass(frozen=True, slots=True)
class _Row:
    """Bars that change in the same way."""

    bars: str
    texts: tuple[str, ...]


def comparison(
    lesson: Lesson,
    *,
    lower: str,
    upper: str,
    instrument: str,
    bars_per_line: int = BARS_SHOWN,
) -> Figure:
    """Compare two levels as one instrument reads them.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    lower, upper : str
        Level names; what `upper` does otherwise is told.
    instrument : str
        In whose written key.
    bars_per_line : int
        How many bars of the two staves stand in a line.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    """
    below = written(lesson, level=lower, instrument=instrument)
    above = written(lesson, level=upper, instrument=instrument)
    parts = lesson.part(lower, instrument), lesson.part(upper, instrument)
    octaves = octaves_apart(*parts)
    found = compare(below.sheet, by_octaves(above.sheet, -octaves))
    rows = _rows(found)
    names = below.level.settings.title, above.level.settings.title
    title = f"From {names[0].lower()} to {names[1].lower()}"
    numbers = [
        (name, values[0], values[1])
        for name, *values in _numbers(below.level, above.level, *parts)
    ]
    note = octave_sentence(octaves)
    words = "\n".join(
        (
            f"{title}, {above.player}, in {above.sheet.key}.",
            *(f"{name}: {before}; then {after}." for name, before, after in numbers),
            *([note] if note else []),
            *(f"{row.bars}: {'; '.join(row.texts)}." for row in rows),
            *([] if rows else ["The notes and changes are the same."]),
        )
    )
    html = draw(
        "comparison",
        title=title,
        aside=f"{above.player}, in {above.sheet.key}",
        names=names,
        numbers=numbers,
        note=note,
        rows=rows[:ROWS_SHOWN],
        more=rows[ROWS_SHOWN:],
        drawings=_drawings(parts, names, found, bars_per_line),
    )
    options = {"lower": lower, "upper": upper, "instrument": instrument}
    return Figure("comparison", title, html, words, options)


def on_page(asked: Asked) -> str | None:
    """Compare the reader's level with the one below at two widths; None for the lowest."""
    among = asked.among
    upper = asked.options.get("upper") or asked.level
    place = among.index(upper) if upper in among else 0
    lower = asked.options.get("lower") or (among[place - 1] if place > 0 else None)
    if lower is None or lower == upper:
        return None
    draw = partial(
        comparison, asked.lesson, lower=lower, upper=upper, instrument=asked.instrument
    )
    return in_two_widths(draw)


def levels_beside(options: Mapping[str, Any], among: Sequence[str]) -> Sequence[str]:
    """Give all levels of a page where the call does not name both."""
    return () if options.get("lower") and options.get("upper") else among


def _numbers(
    below: Level, above: Level, lower_part: Part, upper_part: Part
) -> list[tuple[str, str, str]]:
    def of(level: Level, part: Part) -> tuple[str, str, str]:
        hard = difficulty(part.tune, level.tempo_qpm, instrument=part.instrument)
        bars = counted(level.route.counted_bars, "bar")
        said = hard.sentence.removeprefix("Difficulty ").removesuffix(".")
        return tempo_words(level), f"{bars}, {length_words(level.seconds)}", said

    rows = zip(of(below, lower_part), of(above, upper_part), strict=True)
    return [
        (name, before, after)
        for name, (before, after) in zip(
            ("Tempo", "Length", "Difficulty"), rows, strict=True
        )
    ]


def _rows(found: Sequence[Difference]) -> list[_Row]:
    by_bar: dict[int, list[str]] = {}
    whole: list[_Row] = []
    for difference in found:
        whole_bars = _WHOLE_BARS.fullmatch(difference.text)
        if whole_bars:
            whole.append(_Row(_capital(whole_bars[1]), (whole_bars[2],)))
            continue
        text = _PLACE.sub("", difference.text, count=1)
        by_bar.setdefault(difference.bar_number, []).append(text)
    bars_of: dict[tuple[str, ...], list[int]] = {}
    for number, texts in by_bar.items():
        bars_of.setdefault(tuple(texts), []).append(number)
    rows = [_Row(_capital(bars_words(bars)), texts) for texts, bars in bars_of.items()]
    return [*rows, *whole]


def _drawings(
    parts: tuple[Part, Part],
    names: tuple[str, str],
    found: Sequence[Difference],
    bars_per_line: int,
) -> list[tuple[str, str]]:
    """Draw the first line of music in which a note differs, at both levels."""
    noted = [one for one in found if one.upper_ids]
    if not noted:
        return []
    lower, upper = parts
    old = {identity for one in noted for identity in one.lower_ids}
    new = {identity for one in noted for identity in one.upper_ids}
    index = upper.tune.index_of(noted[0].bar_number)
    starts = line_starts(upper.tune.bars, BARS_SHOWN)
    first = max(start for start in starts if start <= index)
    ends = [*(start - 1 for start in starts if start > first), len(upper.tune.bars) - 1]
    last = min(ends[0], len(lower.tune.bars) - 1)
    page = replace(
        PHONE if bars_per_line <= 2 else SCREEN,
        bars_per_line=bars_per_line,
        fill_last_line=0.0,
    )
    return [
        (
            name,
            markup(
                _inked(engrave_excerpt(part, first=first, last=last, page=page).svg, ids)
            ),
        )
        for name, part, ids in ((names[0], lower, old), (names[1], upper, new))
    ]


def _inked(svg: str, ids: set[str]) -> str:
    """Draw the notes with these ids in another ink, and name them for a script."""

    def ink(match: re.Match[str]) -> str:
        return (
            f'{match[0]} data-differs="true" color="{NEW_INK}"'
            if match[1] in ids
            else match[0]
        )

    return re.sub(r'data-id="(b\d+n\d+)"', ink, svg)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
