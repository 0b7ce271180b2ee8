"""Which sections does a tune have whose source does not say?

The sections are found by comparing bars: of several ways to cut the tune, the one that
leaves a student least to learn wins.

Conventions
-----------
* A cut costs the bars to be learnt, the bars in which a repeat differs, and a little for
  each section, so that neither four-bar scraps nor one long stretch win without reason.
* Repeat signs, where bars still have their printed numbers, are strong hints.

Source: lengths of sections are common practice; the cost is our own (what it finds, and how
often: tests/benchmarks/form_finding.py and docs/developer/craft.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from string import ascii_uppercase

from kit.form._likeness import Likenesses, bar_contents, sections_to_compare
from kit.form._marks import pickup_before
from kit.form.sections import Form, Section
from kit.tune.model import Tune

__all__ = ["found_form"]

_SAME = 0.66
"""From this likeness on, two stretches count as the same section."""
_SAME_OPENING = 0.6
_LONG = 12
"""A longer stretch must be alike in both its halves."""
_DUPLICATE = 0.85
"""What comes back note for note must be liker than this to a third stretch to be one too:
an exact repeat leaves no room for a varied one."""
_LENGTHS = (4, 6, 8, 10, 12, 16, 20, 24, 32)
# Eight bars are the usual strain; four, twelve and sixteen come next (common practice).
_LENGTH_COST = {4: 0.5, 8: 0.0, 12: 1.0, 16: 2.0}
_SECTION_COST = 1.5
_SPLIT_REPEAT_COST = 3.0
_PHRASE = 4
_PAIRED_PHRASES_COST = 8.0
"""Phrases of four bars that all come in pairs are halves of eight-bar strains."""


def found_form(played: Tune) -> Form:
    """Give the sections of an unfolded tune by comparing its bars, marks ignored."""
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    if not full:
        return Form((), "found")
    every = bar_contents(played)
    likenesses = Likenesses([every[index] for index in full])
    repeats = _repeat_edges([played.bars[index].number for index in full])
    cut = min(
        _possible_cuts(len(full), repeats),
        key=lambda edges: _cost(likenesses, edges, repeats),
    )
    labels = _labels(likenesses, cut)
    sections = tuple(
        Section(label, full[start], full[end - 1], pickup_before(played, full[start]))
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
        start = next((p for p in reversed(range(place)) if numbers[p] <= again), 0)
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
    # In order: `min` takes the first of equals, and a set has no order of its own.
    return sorted(cuts)


def _even_cut(start: int, end: int, length: int) -> tuple[int, ...]:
    """Cut every `length` bars; a short rest is a tag and stays with the last section."""
    edges = list(range(start, end, length))
    if len(edges) > 1 and end - edges[-1] <= length // 2:
        edges.pop()
    return (*edges, end)


def _labels(likenesses: Likenesses, cut: Sequence[int]) -> list[str]:
    firsts: list[tuple[int, int]] = []
    labels: list[str] = []
    duplicates = _duplicates(likenesses, cut)
    for start, end in pairwise(cut):
        bound = _DUPLICATE if start in duplicates else _SAME
        place = _same_as(likenesses, (start, end), firsts, bound)
        if place is None:
            place = len(firsts)
            firsts.append((start, end))
        labels.append(_letter(place))
    return labels


def _duplicates(likenesses: Likenesses, cut: Sequence[int]) -> frozenset[int]:
    """Give the starts of stretches whose next stretch is the very same music."""
    stretches = [likenesses.kinds[slice(*edges)] for edges in pairwise(cut)]
    pairs = zip(cut, pairwise(stretches), strict=False)
    return frozenset(start for start, (one, two) in pairs if one == two)


def _same_as(
    likenesses: Likenesses,
    stretch: tuple[int, int],
    firsts: Sequence[tuple[int, int]],
    bound: float,
) -> int | None:
    """Which of the known sections a stretch repeats, if any."""
    best: tuple[float, int] | None = None
    for place in sections_to_compare(len(firsts)):
        other = firsts[place]
        lengths = (stretch[1] - stretch[0], other[1] - other[0])
        # Half as long at most is another section, not the same one shortened.
        if 2 * min(lengths) <= max(lengths):
            continue
        half = min(lengths) // 2
        if half and not _alike(likenesses, other, stretch, (0, half), _SAME_OPENING):
            # A section is known by its opening; strains often share their endings.
            continue
        long = min(lengths) > _LONG
        if long and not _alike(likenesses, other, stretch, (half, max(lengths)), _SAME):
            # Half a long stretch is a section of its own: ABAC, not AA.
            continue
        likeness = likenesses.stretches(other, stretch, at_least=bound)
        if likeness >= bound and (best is None or likeness > best[0]):
            best = (likeness, place)
    return None if best is None else best[1]


def _alike(
    likenesses: Likenesses,
    one: tuple[int, int],
    other: tuple[int, int],
    part: tuple[int, int],
    bound: float,
) -> bool:
    """Whether a part of two stretches, counted from their starts, is alike enough."""
    first, second = (
        (start + part[0], min(start + part[1], end)) for start, end in (one, other)
    )
    return likenesses.stretches(first, second, at_least=bound) >= bound


def _letter(place: int) -> str:
    rounds, index = divmod(place, len(ascii_uppercase))
    return ascii_uppercase[index] + (str(rounds) if rounds else "")


def _cost(likenesses: Likenesses, cut: Sequence[int], repeats: frozenset[int]) -> float:
    """Weigh what a cut leaves to learn, in bars."""
    # Repeat signs are edges that the composer drew: passing one over must pay.
    cost = _SPLIT_REPEAT_COST * len(repeats - set(cut))
    first_of: dict[str, int] = {}
    length_of: dict[str, int] = {}
    labels = _labels(likenesses, cut)
    phrases = all(end - start == _PHRASE for start, end in pairwise(cut))
    if phrases and labels[::2] == labels[1::2] and not repeats:
        cost += _PAIRED_PHRASES_COST
    for label, (start, end) in zip(labels, pairwise(cut), strict=True):
        length = end - start
        cost += _SECTION_COST + _LENGTH_COST.get(length, 2.0) + max(0, length - 16) * 0.5
        if label not in first_of:
            first_of[label], length_of[label] = start, length
            cost += length
            continue
        shared = min(length, length_of[label])
        cost += length - shared
        cost += sum(
            1.0 - likenesses.bars(first_of[label] + k, start + k) for k in range(shared)
        )
    return cost
