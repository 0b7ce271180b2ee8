"""Where a passage changes its octave when its phrase fits the range in none.

Conventions
-----------
* A change of octave is put where it is heard least: between notes that leap anyway, behind
  a long note, at a bar line; never within a tie. Of all ways to bring every note into a
  range the one with the fewest and best places is taken, and of these the one that moves
  the fewest notes.

Source: common practice of arrangers; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from kit.instruments._phrases import Placed
from kit.instruments.table import Range
from kit.tune.pitch import Pitch

__all__ = ["fold_row"]

_CHANGE = 8.0
_LEAP_HELPS = 3.0
_LONG_HELPS = 1.5
_BAR_LINE_HELPS = 1.5
_AWAY = 0.4
"""For each quarter note and octave that a note is away from where the row is."""
_MOVED = 1.5
"""For each note and octave: what is moved is no longer the tune's own line."""
_OUTSIDE = 1000.0
_LEAP_SEMITONES = 5
_LONG = Fraction(3, 2)


def fold_row(
    row: Sequence[Placed], within: Range, reach: Sequence[int] = (0, -1, 1, -2, 2, -3, 3)
) -> tuple[int, ...]:
    """Give each note of a row the octaves by which it is moved.

    Parameters
    ----------
    row : sequence of Placed
        One phrase.
    within : Range
        What is to hold every note; a note that it holds in no octave costs the most and
        stays where it is cheapest.
    reach : sequence of int
        The octaves that may be taken.

    Returns
    -------
    tuple of int, one per note
    """
    # Viterbi's way: the cheapest row up to each note and octave, so no choice is too early.
    best = [{octaves: (_cost(row[0], within, octaves), 0) for octaves in reach}]
    for before, placed in pairwise(row):
        last, here = best[-1], {}
        for octaves in reach:
            change = _change_cost(before, placed)
            cost, came_from = min(
                (total + (0.0 if was == octaves else change * abs(was - octaves)), was)
                for was, (total, _) in last.items()
            )
            here[octaves] = (cost + _cost(placed, within, octaves), came_from)
        best.append(here)
    octaves = min(reach, key=lambda count: best[-1][count][0])
    folded = [octaves]
    for column in reversed(best[1:]):
        octaves = column[octaves][1]
        folded.append(octaves)
    return tuple(reversed(folded))


def _cost(placed: Placed, within: Range, octaves: int) -> float:
    beyond = max(_excess(pitch, within, octaves) for pitch in placed.pitches)
    away = abs(octaves) * (_MOVED + _AWAY * float(placed.note.duration))
    return away + (_OUTSIDE + beyond if beyond else 0.0)


def _excess(pitch: Pitch, within: Range, octaves: int) -> int:
    midi = pitch.midi + 12 * octaves
    return max(within.low.midi - midi, midi - within.high.midi, 0)


def _change_cost(before: Placed, placed: Placed) -> float:
    """Say how much a change of octave between two notes is heard."""
    if placed.is_held:
        # Dearer than a note out of range: a tie cannot join two pitches.
        return _OUTSIDE * 4
    assert before.note.pitch is not None
    assert placed.note.pitch is not None
    cost = _CHANGE
    if abs(before.note.pitch.midi - placed.note.pitch.midi) >= _LEAP_SEMITONES:
        cost -= _LEAP_HELPS
    if before.note.duration >= _LONG:
        cost -= _LONG_HELPS
    if before.bar != placed.bar:
        cost -= _BAR_LINE_HELPS
    return cost
