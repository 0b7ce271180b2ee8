"""Where do played notes stand when they are written down?

Conventions
-----------
* Each beat is written in sixteenths or in eighth triplets, whichever its notes are nearer
  to; triplets have to be clearly nearer.
* If the triplet beats of a tune hold nothing but long-short pairs, it swings: the pairs
  are written as plain eighths.
* A gap of up to a sixteenth before the next note is the player's, not the page's.

All times are quarter notes. Source: common practice; the thresholds are our own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

__all__ = ["GridNote", "is_swung", "quantised"]

_SIXTEENTHS = tuple(Fraction(n, 4) for n in range(5))
_TRIPLETS = tuple(Fraction(n, 3) for n in range(4))
_TRIPLET_HANDICAP = 0.6
"""Triplets are chosen only if their error is below this share of the sixteenths' error."""
_TOLERANCE = Fraction(1, 50)
_SMALL_GAP = Fraction(1, 4)
_SWUNG_SHARE = 0.9
_SWUNG_PAIRS = 4


@dataclass(frozen=True, slots=True)
class GridNote:
    """A note in place; `key` is its MIDI note number."""

    start: Fraction
    end: Fraction
    key: int


def quantised(
    played: Sequence[tuple[Fraction, Fraction, int]],
) -> tuple[tuple[GridNote, ...], bool]:
    """Put a single line on the grid.

    Parameters
    ----------
    played : sequence of (start, end, MIDI note number)
        In order of start.

    Returns
    -------
    tuple of GridNote, bool
        The notes, none overlapping, and whether they are swung.
    """
    by_beat: dict[int, list[Fraction]] = {}
    for start, _, _ in played:
        by_beat.setdefault(floor(start), []).append(start - floor(start))
    triplet = {beat for beat, places in by_beat.items() if _is_triplet(places)}
    swung = is_swung([by_beat[beat] for beat in sorted(triplet)])
    starts = [_placed(start, triplet, swung=swung) for start, _, _ in played]
    notes: list[GridNote] = []
    for index, (_, end, key) in enumerate(played):
        begin = starts[index]
        if notes and begin <= notes[-1].start:
            # Two notes fall on one place: the line keeps the higher one.
            if key > notes[-1].key:
                notes[-1] = GridNote(notes[-1].start, notes[-1].end, key)
            continue
        if notes and notes[-1].end > begin:
            notes[-1] = GridNote(notes[-1].start, begin, notes[-1].key)
        finish = _placed(end, triplet, swung=swung)
        notes.append(GridNote(begin, max(finish, begin + _shortest(begin)), key))
    return _joined(notes), swung


def is_swung(beats: Sequence[Sequence[Fraction]]) -> bool:
    """Say whether triplet beats hold nothing but long-short pairs."""
    late = sum(
        any(_nearest(p, _TRIPLETS) == Fraction(2, 3) for p in beat) for beat in beats
    )
    middle = sum(
        any(_nearest(p, _TRIPLETS) == Fraction(1, 3) for p in beat) for beat in beats
    )
    return late >= _SWUNG_PAIRS and late >= _SWUNG_SHARE * (late + middle)


def _is_triplet(places: Sequence[Fraction]) -> bool:
    straight = max(abs(p - _nearest(p, _SIXTEENTHS)) for p in places)
    triple = max(abs(p - _nearest(p, _TRIPLETS)) for p in places)
    return straight > _TOLERANCE and triple < _TRIPLET_HANDICAP * straight


def _nearest(place: Fraction, grid: Sequence[Fraction]) -> Fraction:
    return min(grid, key=lambda spot: abs(spot - place))


def _placed(moment: Fraction, triplet: set[int], *, swung: bool) -> Fraction:
    beat = floor(moment)
    grid = _TRIPLETS if beat in triplet else _SIXTEENTHS
    place = _nearest(moment - beat, grid)
    if swung and beat in triplet:
        place = {Fraction(1, 3): Fraction(1, 2), Fraction(2, 3): Fraction(1, 2)}.get(
            place, place
        )
    return beat + place


def _shortest(start: Fraction) -> Fraction:
    return Fraction(1, 3) if start.denominator == 3 else Fraction(1, 4)


def _joined(notes: Sequence[GridNote]) -> tuple[GridNote, ...]:
    """Close the small gaps, and cut what reaches into the next note."""
    done: list[GridNote] = []
    for index, note in enumerate(notes):
        end = note.end
        if index + 1 < len(notes):
            following = notes[index + 1].start
            if end > following or following - end <= _SMALL_GAP:
                end = following
        done.append(GridNote(note.start, end, note.key))
    return tuple(done)
