"""When are two phrases one strain?

The search finds what comes back, and the shortest way to say it is often by phrases. What
musicians call a section is then twice as long: a question and its answer are one period,
and a strain that is played twice is one thing although its halves are alike.

Conventions: pieces are stretches of full bars with a label from 0 on, below 0 where they
are no sections (intro, coda). Source: common practice; "period" and its open and closed
endings as in every textbook of form.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

__all__ = ["Piece", "joined"]

_STRAIN = 8
"""The usual strain in bars: phrases half as long are joined more readily."""
_LONG_STRAIN = 16


class Piece(NamedTuple):
    """A section as it is built up: its first full bar, its bars, its label."""

    start: int
    length: int
    label: int

    @property
    def end(self) -> int:
        """The full bar behind it."""
        return self.start + self.length


_Pair = tuple[Piece, Piece]


def joined(
    pieces: Sequence[Piece], kinds: Sequence[int], closes: Callable[[int], bool]
) -> tuple[Piece, ...]:
    """Join phrases to strains where strains are what the tune is made of.

    Parameters
    ----------
    pieces : sequence of Piece
        What the search has found.
    kinds : sequence of int
        A number for each full bar, the same where the same sounds.
    closes : callable
        Whether the music comes home in a full bar.
    """
    core = [piece for piece in pieces if piece.label >= 0]
    lengths = {piece.length for piece in core}
    if len(core) > 1 and len(lengths) > 1:
        return _with_halves_joined(pieces, core)
    if len(core) < 4 or len(core) % 2 or 2 * core[0].length > _LONG_STRAIN:
        return tuple(pieces)
    pairs = list(zip(core[::2], core[1::2], strict=True))
    if not _are_strains(pairs, kinds, closes):
        return tuple(pieces)
    labels: dict[tuple[int, int], int] = {}
    whole = [
        Piece(
            one.start,
            2 * one.length,
            labels.setdefault((one.label, two.label), len(labels)),
        )
        for one, two in pairs
    ]
    return joined(_framed(pieces, whole), kinds, closes)


def _framed(pieces: Sequence[Piece], core: Sequence[Piece]) -> tuple[Piece, ...]:
    head = [piece for piece in pieces if piece.label < 0 and piece.start < core[0].start]
    foot = [piece for piece in pieces if piece.label < 0 and piece.start > core[0].start]
    return (*head, *core, *foot)


def _with_halves_joined(
    pieces: Sequence[Piece], core: Sequence[Piece]
) -> tuple[Piece, ...]:
    """Join b b of four bars to one strain where the tune's other strains have eight."""
    strain = core[0].length
    half = [piece for piece in core if 2 * piece.length == strain]
    pairs = list(zip(half[::2], half[1::2], strict=False))
    if strain != _STRAIN or len(half) % 2 or not half:
        return tuple(pieces)
    if any(one.label != two.label or one.end != two.start for one, two in pairs):
        return tuple(pieces)
    second = {two for _, two in pairs}
    whole = [
        Piece(piece.start, strain, piece.label) if piece in half else piece
        for piece in core
        if piece not in second
    ]
    return _framed(pieces, whole)


def _are_strains(
    pairs: Sequence[_Pair], kinds: Sequence[int], closes: Callable[[int], bool]
) -> bool:
    strain = 2 * pairs[0][0].length
    labels = [(one.label, two.label) for one, two in pairs]
    different = set(labels)
    # Where a label stands in two pairs, the pairs are no units: a a b a is no strain a b.
    apart = len({label for pair in different for label in pair}) == sum(
        len(set(pair)) for pair in different
    )
    if not apart:
        return False
    # A strain is said again at once. What comes back only when all has been played is the
    # next round; and two sections of eight bars that alternate, as verse and chorus do, are
    # two.
    again = any(one == two for one, two in pairwise(labels))
    often = len(pairs) >= 2 * len(different)
    if again and often and (strain <= _STRAIN or len(different) > 1):
        return True
    if any(_is_played_twice(one, two, kinds) for one, two in pairwise(pairs)):
        return True
    # Where two phrases of four bars belong together and never come back, eight bars are
    # the strain; the phrase that is said twice beside them is a strain too.
    if strain == _STRAIN and any(one.label != two.label for one, two in pairs):
        return True
    alike = [(one, two) for one, two in pairs if one.label == two.label]
    periods = all(_is_period(one, two, kinds, closes) for one, two in alike)
    return strain <= _STRAIN and bool(alike) and periods


def _is_played_twice(first: _Pair, second: _Pair, kinds: Sequence[int]) -> bool:
    """Whether a pair of like phrases with unlike endings comes back as it is: a a′ a a′."""
    if len({piece.label for piece in (*first, *second)}) > 1:
        return False
    bars = [tuple(kinds[piece.start : piece.end]) for piece in (*first, *second)]
    return bars[:2] == bars[2:] and bars[0] != bars[1]


def _is_period(
    one: Piece, two: Piece, kinds: Sequence[int], closes: Callable[[int], bool]
) -> bool:
    """Whether the first phrase ends open and its like comes home."""
    unlike = kinds[one.end - 1] != kinds[two.end - 1]
    return unlike and closes(two.end - 1) and not closes(one.end - 1)
