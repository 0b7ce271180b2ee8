"""What of a part is moved by octaves, because the instrument does not have it?

Conventions
-----------
* Only what leaves the instrument's range is moved, and as little as possible. One note that
  goes too far is moved alone. Of several, a passage of the phrase changes its octave where
  that is heard least (`fold_row`); where half of the phrase would have to, all of it does,
  so that its line stays whole.
* A phrase is what is played in one breath (`phrases`).

Source: common practice of arrangers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from kit.instruments._passages import fold_row
from kit.instruments._phrases import Placed, phrases, rows
from kit.instruments.table import Range
from kit.tune.model import Bar, Note
from kit.tune.pitch import Interval, Pitch

__all__ = ["NotePlace", "OctaveMove", "folded_passages", "move_phrases", "moved_count",
           "octave", "outside"]  # fmt: skip

NotePlace = tuple[int, int]
"""Bar index and position in the bar."""

# Near before far and down before up: the first of equals is taken.
_REACH = (0, -1, 1, -2, 2, -3, 3, -4, 4, -5, 5)


@dataclass(frozen=True, slots=True)
class OctaveMove:
    """Notes that are written some octaves from the rest, both ends included.

    They are a whole phrase, or a passage of one, down to a single note.
    """

    first: NotePlace
    last: NotePlace
    octaves: int
    is_phrase: bool = True


def octave(count: int) -> Interval:
    """Give an interval of so many octaves."""
    return Interval(7 * count, 12 * count)


def move_phrases(bars: Sequence[Bar], full: Range) -> tuple[OctaveMove, ...]:
    """Find what leaves a range, and the octaves in which it fits."""
    moves: list[OctaveMove] = []
    for row in rows(bars):
        if not _leaves(row, full):
            continue
        for phrase in phrases(bars, row):
            if _leaves(phrase, full):
                moves.extend(_moves_of(phrase, full))
    return tuple(moves)


def _leaves(row: Sequence[Placed], full: Range) -> bool:
    return any(full.excess(pitch) for placed in row for pitch in placed.pitches)


def _moves_of(row: Sequence[Placed], full: Range) -> tuple[OctaveMove, ...]:
    alone = _one_note(row, full)
    if alone is not None:
        return (alone,)
    passages = folded_passages(row, full, _REACH)
    whole = _fitting([pitch for placed in row for pitch in placed.pitches], full)
    if whole and 2 * moved_count(row, passages) >= _sounds(row):
        return (OctaveMove(_place(row[0]), _place(row[-1]), whole),)
    return passages


def _one_note(row: Sequence[Placed], full: Range) -> OctaveMove | None:
    """Give the move of the only sound of a phrase that leaves a range."""
    out = [i for i, placed in enumerate(row) if any(map(full.excess, placed.pitches))]
    first = out[0]
    last = first
    while last + 1 < len(row) and row[last + 1].is_held:
        last += 1
    # Its tied symbols go with it; what it is tied to before goes too far as well.
    if out[-1] > last or row[first].is_held:
        return None
    count = _fitting([p for placed in row[first : last + 1] for p in placed.pitches], full)
    if not count:
        return None
    return OctaveMove(_place(row[first]), _place(row[last]), count, is_phrase=False)


def _fitting(pitches: Sequence[Pitch], full: Range) -> int:
    """Give the nearest other octave in which pitches fit, 0 if there is none."""
    return next(
        (
            count
            for count in _REACH[1:]
            if not any(full.excess(pitch + octave(count)) for pitch in pitches)
        ),
        0,
    )


def folded_passages(
    row: Sequence[Placed], within: Range, reach: Sequence[int]
) -> tuple[OctaveMove, ...]:
    """Give the passages of a phrase that change their octave to come into a range."""
    moves: list[OctaveMove] = []
    before = 0
    for placed, count in zip(row, fold_row(row, within, reach), strict=True):
        place = _place(placed)
        if count and count == before:
            moves[-1] = replace(moves[-1], last=place)
        elif count:
            moves.append(OctaveMove(place, place, count, is_phrase=False))
        before = count
    return tuple(moves)


def moved_count(row: Sequence[Placed], moves: Sequence[OctaveMove]) -> int:
    """Count the sounds that are moved."""
    return sum(
        not placed.is_held and any(m.first <= _place(placed) <= m.last for m in moves)
        for placed in row
    )


def _sounds(row: Sequence[Placed]) -> int:
    return sum(not placed.is_held for placed in row)


def outside(bars: Sequence[Bar], within: Range) -> tuple[NotePlace, ...]:
    """Give the places of the notes that leave a range, by themselves or a grace note."""
    return tuple(
        (index, position)
        for index, bar in enumerate(bars)
        for position, note in enumerate(bar.notes)
        if any(within.excess(pitch) for pitch in _pitches(note))
    )


def _pitches(note: Note) -> Iterator[Pitch]:
    if note.pitch is not None:
        yield note.pitch
        yield from (grace.pitch for grace in note.graces)


def _place(placed: Placed) -> NotePlace:
    return placed.bar, placed.position
