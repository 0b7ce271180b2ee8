"""Which note of one version is which note of another?

The notes of both are paired in order so that the changes needed are least: another pitch
or moment has a price, and so has a note without a partner. Notes alike in start, pitch and
length are paired at once and part the rest into small pieces.

Source: sequence alignment by dynamic programming (Needleman & Wunsch 1970, from memory);
the prices are our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from kit.levels.rewrite import Sound

__all__ = ["Pair", "aligned"]

Pair = tuple[int | None, int | None]
"""Places of partners in the two versions; None on the side that has no such note."""

_ALONE = 0.75
_QUARTER = 0.4
_FARTHEST = 3
_LARGEST = 200
"""Stretches without a common note are cut at this many notes to bound the work."""


def aligned(lower: Sequence[Sound], upper: Sequence[Sound]) -> tuple[Pair, ...]:
    """Pair the sounds of two versions on the same timeline, in order.

    Returns
    -------
    tuple of Pair
        Every sound of both versions stands in exactly one pair.
    """
    pairs: list[Pair] = []
    i = j = 0
    for anchor_i, anchor_j in _anchors(lower, upper):
        pairs += _between(lower, upper, (i, anchor_i), (j, anchor_j))
        pairs.append((anchor_i, anchor_j))
        i, j = anchor_i + 1, anchor_j + 1
    pairs += _between(lower, upper, (i, len(lower)), (j, len(upper)))
    return tuple(pairs)


def _anchors(lower: Sequence[Sound], upper: Sequence[Sound]) -> Iterator[tuple[int, int]]:
    there = {(s.start, s.pitch.midi, s.duration): j for j, s in enumerate(upper)}
    for i, sound in enumerate(lower):
        j = there.get((sound.start, sound.pitch.midi, sound.duration))
        if j is not None:
            yield i, j


def _between(
    lower: Sequence[Sound],
    upper: Sequence[Sound],
    span: tuple[int, int],
    other: tuple[int, int],
) -> list[Pair]:
    """Align two stretches, cut where they are too long to compare as a whole."""
    pairs: list[Pair] = []
    (i, i_end), (j, j_end) = span, other
    while i < i_end and j < j_end and max(i_end - i, j_end - j) > _LARGEST:
        i_cut = min(i + _LARGEST // 2, i_end)
        moment = lower[i_cut].start if i_cut < i_end else upper[j_end - 1].end
        j_cut = j
        while j_cut < min(j_end, j + _LARGEST) and upper[j_cut].start < moment:
            j_cut += 1
        pairs += _least_change(lower, upper, (i, i_cut), (j, j_cut))
        i, j = i_cut, j_cut
    return pairs + _least_change(lower, upper, (i, i_end), (j, j_end))


def _least_change(
    lower: Sequence[Sound],
    upper: Sequence[Sound],
    span: tuple[int, int],
    other: tuple[int, int],
) -> list[Pair]:
    rows, columns = range(*span), range(*other)
    if not rows or not columns:
        return [(i, None) for i in rows] + [(None, j) for j in columns]
    best = [[_ALONE * c for c in range(len(columns) + 1)]]
    for i in rows:
        row = [best[-1][0] + _ALONE]
        for c, j in enumerate(columns, start=1):
            row.append(
                min(
                    best[-1][c - 1] + _price(lower[i], upper[j]),
                    best[-1][c] + _ALONE,
                    row[c - 1] + _ALONE,
                )
            )
        best.append(row)
    return _traced(best, lower, upper, span[0], other[0])


def _traced(
    best: Sequence[Sequence[float]],
    lower: Sequence[Sound],
    upper: Sequence[Sound],
    first_i: int,
    first_j: int,
) -> list[Pair]:
    pairs: list[Pair] = []
    r, c = len(best) - 1, len(best[0]) - 1
    while r or c:
        i, j = first_i + r - 1, first_j + c - 1
        here = best[r][c]
        # The very sums that the table was filled with: floats may be compared here.
        if r and c and here == best[r - 1][c - 1] + _price(lower[i], upper[j]):
            pairs.append((i, j))
            r, c = r - 1, c - 1
        elif r and here == best[r - 1][c] + _ALONE:
            pairs.append((i, None))
            r -= 1
        else:
            pairs.append((None, j))
            c -= 1
    return pairs[::-1]


def _price(one: Sound, other: Sound) -> float:
    apart = abs(one.start - other.start)
    if apart > _FARTHEST:
        # Dearer than to leave both without a partner: so far apart they are never paired.
        return 2 * _ALONE + 1
    interval = abs(one.pitch.midi - other.pitch.midi)
    if interval == 0:
        pitch = 0.0
    elif interval % 12 == 0:
        pitch = 0.6
    else:
        pitch = 0.7 if interval <= 2 else 1.0
    length = min(abs(one.duration - other.duration), Fraction(2))
    return pitch + _QUARTER * float(apart) + 0.05 * float(length)
