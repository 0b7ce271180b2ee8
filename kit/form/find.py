"""Which sections does the tune have?

Section marks in the notation, or ranges in the lesson file, are the truth. Without them
the sections are found by comparing bars: of several ways to cut the tune, the one that
leaves a student least to learn wins.

Conventions
-----------
* The tune is unfolded (`kit.tune.unfold`); sections point at its bars by index.
* ``A1``, ``A'`` and ``A2`` all mean the label ``A``; a mark printed on a pick-up or on the
  full bar after it means the same.
* A cut costs the bars to be learnt, the bars in which a repeat differs, and a little for
  each section, so that neither four-bar scraps nor one long stretch win without reason.

Source: lengths of sections are common practice; the cost is our own (see
tests/reference/test_form_finding.py for what it finds).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise
from string import ascii_uppercase

from kit.errors import LessonError
from kit.form.likeness import (
    BarContent,
    bar_contents,
    bar_likeness,
    stretch_likeness,
)
from kit.form.sections import Form, Section
from kit.form.wording import bars_words, ordinal
from kit.tune.model import Tune

__all__ = ["find_form", "form_disagreement", "form_from_ranges", "found_form"]

_SAME = 0.66
"""From this likeness on, two stretches count as the same section."""
_SAME_OPENING = 0.6
_LONG = 12
"""A longer stretch must be alike in both its halves."""
_UNLIKE = 0.4
_EQUAL = 0.95
_LENGTHS = (4, 6, 8, 10, 12, 16, 20, 24, 32)
_LENGTH_COST = {4: 0.5, 8: 0.0, 12: 1.0, 16: 2.0}
_SECTION_COST = 1.5
_SPLIT_REPEAT_COST = 3.0
_VARIANT = re.compile(r"(.+?)[\s\-.]*(?:\d+|['′’″\"]+)?")
_RANGE = re.compile(r"\s*(\d+)\s*(?:[-–]\s*(\d+)\s*)?")


def find_form(played: Tune) -> Form:
    """Give the sections of an unfolded tune, from its marks or else by comparison.

    Parameters
    ----------
    played : Tune
        The tune with its repeats written out.

    Returns
    -------
    Form
        `source` is ``marks`` or ``found``.
    """
    starts = _marked_starts(played)
    return _form_from_starts(played, starts) if starts else found_form(played)


def _marked_starts(played: Tune) -> list[tuple[int, str]]:
    """Give the first full bar of each marked section with its label."""
    starts: list[tuple[int, str]] = []
    for index, bar in enumerate(played.bars):
        label = _label(bar.section)
        if not label:
            continue
        first = index + 1 if bar.pickup else index
        if first >= len(played.bars):
            continue
        if starts and starts[-1][0] == first:
            starts[-1] = (first, label)
        else:
            starts.append((first, label))
    return starts


def _label(mark: str) -> str:
    """Take the variant off a mark: ``A2`` is A, ``Verse 2`` is Verse, ``17`` is none."""
    text = mark.strip().strip("[]()").strip()
    match = _VARIANT.fullmatch(text)
    label = match[1].strip() if match else text
    if not any(sign.isalpha() for sign in label):
        return ""
    return label.upper() if len(label) == 1 else label


def _form_from_starts(played: Tune, starts: Sequence[tuple[int, str]]) -> Form:
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    labelled = [(first, label) for first, label in starts if first in set(full)]
    if full and (not labelled or labelled[0][0] != full[0]):
        taken = {label for _, label in labelled}
        labelled.insert(0, (full[0], "A" if "A" not in taken else "Intro"))
    edges = [first for first, _ in labelled] + [len(played.bars)]
    sections = []
    for (first, label), (_, end) in zip(labelled, pairwise(edges), strict=True):
        last = max(index for index in full if first <= index < end)
        sections.append(Section(label, first, last, _pickup_before(played, first)))
    return Form(tuple(sections), "marks")


def _pickup_before(played: Tune, first: int) -> int | None:
    return first - 1 if first > 0 and played.bars[first - 1].pickup else None


def found_form(played: Tune) -> Form:
    """Give the sections of an unfolded tune by comparing its bars, marks ignored."""
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    if not full:
        return Form((), "found")
    every = bar_contents(played)
    contents = [every[index] for index in full]
    repeats = _repeat_edges([played.bars[index].number for index in full])
    cut = min(
        _possible_cuts(len(full), repeats),
        key=lambda edges: _cost(contents, edges, repeats),
    )
    labels = _labels(contents, cut)
    sections = tuple(
        Section(label, full[start], full[end - 1], _pickup_before(played, full[start]))
        for label, (start, end) in zip(labels, pairwise(cut), strict=True)
    )
    return Form(sections, "found")


def _repeat_edges(numbers: Sequence[int]) -> frozenset[int]:
    """Places where a repeated passage starts, starts again, or ends."""
    edges: set[int] = set()
    for place in range(1, len(numbers)):
        if numbers[place] > numbers[place - 1]:
            continue
        again = numbers[place]
        start = max(p for p in range(place) if numbers[p] <= again)
        length = place - start
        edges.update({start, place, min(place + length, len(numbers))})
    return frozenset(edges)


def _possible_cuts(count: int, repeats: frozenset[int]) -> list[tuple[int, ...]]:
    """All the ways of cutting that are worth comparing, as edges from 0 to `count`."""
    marks = sorted({0, count} | repeats)
    cuts = {tuple(marks), (0, count)}
    for length in _LENGTHS:
        if length < count:
            cuts.add(_even_cut(0, count, length))
            pieces = [_even_cut(start, end, length) for start, end in pairwise(marks)]
            cuts.add(tuple(sorted({edge for piece in pieces for edge in piece})))
    return sorted(cuts)


def _even_cut(start: int, end: int, length: int) -> tuple[int, ...]:
    """Cut every `length` bars; a short rest is a tag and stays with the last section."""
    edges = list(range(start, end, length))
    if len(edges) > 1 and end - edges[-1] <= length // 2:
        edges.pop()
    return (*edges, end)


def _labels(contents: Sequence[BarContent], cut: Sequence[int]) -> list[str]:
    firsts: list[tuple[int, int]] = []
    labels: list[str] = []
    for start, end in pairwise(cut):
        place = _same_as(contents, (start, end), firsts)
        if place is None:
            place = len(firsts)
            firsts.append((start, end))
        labels.append(_letter(place))
    return labels


def _same_as(
    contents: Sequence[BarContent],
    stretch: tuple[int, int],
    firsts: Sequence[tuple[int, int]],
) -> int | None:
    """Which of the known sections a stretch repeats, if any."""
    best: tuple[float, int] | None = None
    for place, other in enumerate(firsts):
        lengths = (stretch[1] - stretch[0], other[1] - other[0])
        if 2 * min(lengths) <= max(lengths):
            continue
        one, two = contents[slice(*other)], contents[slice(*stretch)]
        likeness = stretch_likeness(one, two)
        half = min(lengths) // 2
        if half and stretch_likeness(one[:half], two[:half]) < _SAME_OPENING:
            # A section is known by its opening; strains often share their endings.
            continue
        if min(lengths) > _LONG and stretch_likeness(one[half:], two[half:]) < _SAME:
            # Half a long stretch is a section of its own: ABAC, not AA.
            continue
        if likeness >= _SAME and (best is None or likeness > best[0]):
            best = (likeness, place)
    return None if best is None else best[1]


def _letter(place: int) -> str:
    rounds, index = divmod(place, len(ascii_uppercase))
    return ascii_uppercase[index] + (str(rounds) if rounds else "")


def _cost(
    contents: Sequence[BarContent], cut: Sequence[int], repeats: frozenset[int]
) -> float:
    """Weigh what a cut leaves to learn, in bars."""
    cost = _SPLIT_REPEAT_COST * len(repeats - set(cut))
    first_of: dict[str, int] = {}
    length_of: dict[str, int] = {}
    for label, (start, end) in zip(_labels(contents, cut), pairwise(cut), strict=True):
        length = end - start
        cost += _SECTION_COST + _LENGTH_COST.get(length, 2.0) + max(0, length - 16) * 0.5
        if label not in first_of:
            first_of[label], length_of[label] = start, length
            cost += length
            continue
        shared = min(length, length_of[label])
        cost += length - shared
        cost += sum(
            1.0 - bar_likeness(contents[first_of[label] + k], contents[start + k])
            for k in range(shared)
        )
    return cost


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
    return Section(_label(label) or label, first, last, _pickup_before(played, first))


def form_disagreement(played: Tune, form: Form) -> str | None:
    """Say where given sections and the music itself disagree, None if they agree.

    Two things are reported: equal labels over music with little in common, and different
    labels over the same music.
    """
    every = bar_contents(played)
    sections = form.sections
    for place, section in enumerate(sections):
        here = every[section.first : section.last + 1]
        for earlier in range(place):
            other = sections[earlier]
            likeness = stretch_likeness(every[other.first : other.last + 1], here)
            if section.label == other.label and likeness < _UNLIKE:
                return (
                    f"{_capital(_bars(played, section))} are called {section.label}, and "
                    f"have little in common with the {ordinal(form.occurrence(earlier))} "
                    f"{other.label} ({_bars(played, other)})."
                )
            alike = likeness >= _EQUAL and section.bar_count == other.bar_count
            if section.label != other.label and alike:
                return (
                    f"{_capital(_bars(played, section))} are called {section.label}, and "
                    f"are the same music as {other.label} ({_bars(played, other)})."
                )
    return None


def _bars(played: Tune, section: Section) -> str:
    return bars_words(
        bar.number
        for bar in played.bars[section.first : section.last + 1]
        if not bar.pickup
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
