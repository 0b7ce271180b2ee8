"""How is it seen that two places hold the same melody, in whatever key or notation?

A melody becomes a row of steps: from each note to the next the interval in semitones,
octaves folded, and the time between the two attacks in halves of a quarter note. So a
part in another key, a bar in words and a swung performance have the same steps as the
sheet. Runs of steps are hashed. A drawing has no pitches, only heights: its steps are
those of the staff, with the shape of the head and whether a new bar begins.

Conventions: onsets in quarter notes. Runs that many tunes have (one note repeated, a
figure of up to four notes over and over) tell nothing and are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from kit.publish.leaks._words import NO_HASHES, Hashes, rolled
from kit.tune.model import Bar
from kit.tune.sounding import sounding

__all__ = [
    "NUMBERS_RUN", "Attack", "Mark", "drawn_of", "melody_of", "melody_runs", "number_runs",
    "steps_drawn",
]  # fmt: skip

Attack = tuple[int, float]
"""Pitch as a MIDI number, and onset."""
Mark = tuple[int, int, int]
"""A drawn note: height in steps of the staff, head (2 whole, 3 half, 4 black), bar."""

RUN = 10
NUMBERS_RUN = 18
_FEWEST_STEPS = 4
_LONGEST_FIGURE = 4
_LONGEST_BAR = 12
"""Numbers of a bar of four quarters: place, begin and end of each note."""
_GRACE_QUARTERS = 0.17
_SHORT_QUARTERS = 0.8
_LONGEST_HALVES = 8


def melody_of(bars: Sequence[Bar]) -> list[tuple[Attack, int]]:
    """Give the attacks of bars in a row, each with the index of its bar."""
    starts = np.cumsum([0.0, *(float(bar.length) for bar in bars)])
    return [
        ((note.pitch.midi, float(starts[note.bar]) + float(note.onset)), note.bar)
        for note in sounding(tuple(bars))
    ]


def melody_runs(attacks: Sequence[Attack]) -> tuple[Hashes, NDArray[np.int64]]:
    """Hash the telling runs of a melody; also give the places where they begin."""
    if len(attacks) <= RUN:
        return NO_HASHES, np.zeros(0, np.int64)
    table = np.array(attacks, float)
    waits = np.diff(table[:, 1])
    # A grace note is an ornament: the note it leads to is what was written.
    kept = np.append(waits > _GRACE_QUARTERS, True)
    places, table = np.flatnonzero(kept), table[kept]
    if len(table) <= RUN:
        return NO_HASHES, np.zeros(0, np.int64)
    waits = np.diff(table[:, 1])
    halves = np.clip(np.rint(waits * 2), 1, _LONGEST_HALVES)
    halves[waits < _SHORT_QUARTERS] = 1
    steps = np.mod(np.diff(table[:, 0]), 12) * 16 + halves
    return _telling(steps, places)


def _telling(
    steps: NDArray[np.float64], places: NDArray[np.int64]
) -> tuple[Hashes, NDArray[np.int64]]:
    hashes = rolled(steps.astype(np.uint64), RUN)
    if not len(hashes):
        return NO_HASHES, np.zeros(0, np.int64)
    windows = np.lib.stride_tricks.sliding_window_view(steps, RUN)
    kinds = 1 + (np.diff(np.sort(windows, axis=1), axis=1) != 0).sum(axis=1)
    tells = kinds >= _FEWEST_STEPS
    for length in range(1, _LONGEST_FIGURE + 1):
        tells &= (windows[:, length:] != windows[:, :-length]).any(axis=1)
    return hashes[tells], places[: len(hashes)][tells]


def drawn_of(bars: Iterable[Bar]) -> list[Mark]:
    """Give the notes of bars as they would be drawn."""
    marks = []
    for index, bar in enumerate(bars):
        for note in bar.notes:
            if note.pitch is not None:
                played, time = note.tuplet or (1, 1)
                written = note.duration * played / time
                head = 2 if written >= 4 else 3 if written >= 2 else 4
                marks.append((note.pitch.diatonic, head, index))
    return marks


def steps_drawn(marks: Sequence[Mark]) -> tuple[Hashes, NDArray[np.int64]]:
    """Hash the telling runs of drawn notes, and give the places where they begin."""
    if len(marks) <= RUN:
        return NO_HASHES, np.zeros(0, np.int64)
    table = np.array(marks, float)
    heights = np.mod(np.diff(table[:, 0]), 7)
    steps = heights * 16 + table[1:, 1] * 2 + (np.diff(table[:, 2]) != 0)
    return _telling(steps, np.arange(len(marks)))


def number_runs(numbers: Sequence[float]) -> Hashes:
    """Hash the telling runs of a table of times: they are a level's as its notes are."""
    if len(numbers) < NUMBERS_RUN:
        return NO_HASHES
    values = np.rint(np.array(numbers, float) * 1000).astype(np.int64)
    hashes = rolled(values.astype(np.uint64), NUMBERS_RUN)
    windows = np.lib.stride_tricks.sliding_window_view(values, NUMBERS_RUN)
    kinds = 1 + (np.diff(np.sort(windows, axis=1), axis=1) != 0).sum(axis=1)
    tells = kinds >= NUMBERS_RUN // 3
    # One bar after another in the same plain rhythm is everybody's, as the shares of a bar
    # that its notes take are the same in all of them.
    for length in range(1, _LONGEST_BAR + 1):
        tells &= (windows[:, length:] != windows[:, :-length]).any(axis=1)
    told: Hashes = hashes[tells]
    return told
