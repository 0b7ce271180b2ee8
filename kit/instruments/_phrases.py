"""Where do the phrases of a part begin and end, as far as an octave is concerned?

Conventions
-----------
* A *row* is the notes between two rests, in order, grace notes with their main notes.
* A row with a breath mark, the end of a section or a repeat in it is several phrases. So
  is one that goes on for five bars or more: nobody plays it in one breath, and where
  players breathe the octave may change. They breathe behind a long note, at a bar line,
  after two or four bars, and never within a tie.

Source: common practice; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median

from kit.tune.model import Bar, Note
from kit.tune.pitch import Pitch

__all__ = ["Placed", "phrases", "rows"]

_PHRASE_REST = Fraction(1, 2)
_BREATHS = frozenset({"breath-mark", "caesura"})
_MOST_BARS = 4
# For each time that a note is longer again than the middle one.
_LONG_HELPS = 1.5
_MOST_LONGER = 3.0
_BAR_LINE_HELPS = 1.0
_EVEN_BARS_HELP = 1.0
_SLUR_END_HELPS = 0.5
_OFF_CENTRE = 3.0
"""For a place at either end of a row; phrases are about equally long."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A note of a row: where it stands, and whether it is tied to the one before."""

    bar: int
    position: int
    note: Note
    is_held: bool

    @property
    def pitches(self) -> tuple[Pitch, ...]:
        """Its pitch and those of its grace notes."""
        assert self.note.pitch is not None
        return (self.note.pitch, *(grace.pitch for grace in self.note.graces))


def rows(bars: Sequence[Bar]) -> Iterator[list[Placed]]:
    """Yield the notes between rests."""
    row: list[Placed] = []
    silence = Fraction(0)
    held: Pitch | None = None
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            if note.is_rest:
                silence += note.duration
                held = None
                continue
            if silence >= _PHRASE_REST and row:
                yield row
                row = []
            silence = Fraction(0)
            is_held = held is not None and held == note.pitch
            row.append(Placed(index, position, note, is_held))
            held = note.pitch if note.tied else None
    if row:
        yield row


def phrases(bars: Sequence[Bar], row: list[Placed]) -> Iterator[list[Placed]]:
    """Yield the notes of each phrase of a row."""
    for part in _cut(row, [i for i in range(1, len(row)) if _ends(bars, row, i)]):
        yield from _breathed(bars, part)


def _cut(row: list[Placed], places: Sequence[int]) -> Iterator[list[Placed]]:
    for first, last in pairwise([0, *places, len(row)]):
        yield row[first:last]


def _ends(bars: Sequence[Bar], row: Sequence[Placed], place: int) -> bool:
    """Say whether the page itself ends a phrase before a note."""
    before, after = row[place - 1], row[place]
    if after.is_held:
        return False
    if _BREATHS & set(before.note.marks):
        return True
    return any(
        bars[index].barline != "single"
        or bars[index].repeat_times
        or bars[index + 1].repeat_start
        or bars[index + 1].section
        or bars[index + 1].endings != bars[index].endings
        for index in range(before.bar, after.bar)
    )


def _breathed(bars: Sequence[Bar], row: list[Placed]) -> Iterator[list[Placed]]:
    """Cut a row where it is breathed, again and again, until each phrase is one breath."""
    length = sum((placed.note.duration for placed in row), Fraction(0))
    # With an upbeat a phrase of four bars is a little longer.
    is_long = length >= (_MOST_BARS + 1) * bars[row[0].bar].meter.bar_length
    free = [i for i in range(1, len(row)) if is_long and not row[i].is_held]
    if not free:
        yield row
        return
    usual = float(median(placed.note.duration for placed in row))
    best = max(free, key=lambda place: (_breath(row, place, usual), -place))
    yield from _breathed(bars, row[:best])
    yield from _breathed(bars, row[best:])


def _breath(row: Sequence[Placed], place: int, usual: float) -> float:
    """Say how well one breathes before a note."""
    before, after = row[place - 1], row[place]
    longer = float(before.note.duration) / usual - 1 if usual else 0.0
    good = _LONG_HELPS * min(longer, _MOST_LONGER)
    if before.bar != after.bar:
        good += _BAR_LINE_HELPS
        good += _EVEN_BARS_HELP * ((after.bar - row[0].bar) % 2 == 0)
    good += _SLUR_END_HELPS * bool(before.note.slurs_ended)
    off_centre = abs(place - len(row) / 2) / len(row)
    return good - 2 * _OFF_CENTRE * off_centre**2
