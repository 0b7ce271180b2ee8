"""What does the bass play when it does not walk: in two, in one, on a Latin figure?

The feel's pattern says where and on which chord degree. Over it stand three rules: a note
on a change is the root (or the slash bass), every change gets one, and the line stays in
the instrument's range by the smallest move.

Source: common practice; the double bass sounds from E1, MIDI 28.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction
from functools import cache

from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote
from kit.band.feel import BassNote, beat_groups
from kit.tune.chord import ChordSymbol

__all__ = ["BASS_RANGE", "bass_class", "nearest", "play_pattern"]

BASS_RANGE = (28, 50)
"""E1 to D3: the strings' usual register, thumb position left out."""


def bass_class(symbol: ChordSymbol) -> int:
    """Give the pitch class the bass puts under a chord: its slash bass or its root."""
    name = symbol.bass or symbol.root
    assert name is not None
    return name.pitch_class


@cache
def nearest(pitch_class: int, to: int) -> int:
    """Give the pitch of a class nearest to a MIDI number within the bass's range.

    Examples
    --------
    >>> nearest(0, 38), nearest(4, 28)
    (36, 28)
    """
    low, high = BASS_RANGE
    first = low + (pitch_class - low) % 12
    return min(range(first, high + 1, 12), key=lambda midi: (abs(midi - to), midi))


def play_pattern(
    bars: Sequence[ChartBar], *, rng: random.Random, after: int | None = None
) -> list[PartNote]:
    """Play bars on the patterns of their feels.

    Parameters
    ----------
    bars : sequence of ChartBar
        Consecutive bars.
    rng : random.Random
        Chooses among the feel's patterns.
    after : int, optional
        MIDI number of the bass note before, to go on from.
    """
    notes: list[PartNote] = []
    last = after if after is not None else 38
    for bar in bars:
        fresh = _bar_notes(bar, last, rng)
        if fresh:
            last = fresh[-1].midi
        notes.extend(fresh)
    return notes


def _bar_notes(bar: ChartBar, last: int, rng: random.Random) -> list[PartNote]:
    planned = _places(bar, rng)
    starts = sorted({start for start, *_ in planned} | _must_start(bar))
    by_start = {start: (degree, beats) for start, degree, beats in planned}
    notes: list[PartNote] = []
    for index, start in enumerate(starts):
        symbol = bar.chord_at(start)
        if symbol is None:
            continue
        # Where the pattern rests on a change its root is played all the same.
        degree, beats = by_start.get(start, (1, Fraction(2)))
        change = _change_at(bar, start)
        stop = starts[index + 1] if index + 1 < len(starts) else bar.end
        # No note lasts on into a chord for which it was not chosen.
        length = min(beats * bar.pulse, min(stop, change.end) - start)
        on_change = start == change.start
        midi = _pitch(symbol, 1 if on_change else degree, last)
        velocity = (86 if on_change else 76) + rng.randrange(-3, 4)
        notes.append(PartNote(start, length, midi, velocity))
        last = midi
    return notes


def _places(bar: ChartBar, rng: random.Random) -> list[tuple[Fraction, int, Fraction]]:
    places: list[tuple[Fraction, int, Fraction]] = []
    beat = 0
    for group in beat_groups(bar.beats):
        pattern: tuple[BassNote, ...] = rng.choice(bar.feel.bass[max(2, group)])
        for note in pattern:
            start = bar.start + (beat + note.at) * bar.pulse
            if note.at < group and start < bar.end:
                places.append((start, note.degree, note.beats))
        beat += group
    return places


def _must_start(bar: ChartBar) -> set[Fraction]:
    return {change.start for change in bar.changes if change.symbol is not None}


def _change_at(bar: ChartBar, position: Fraction) -> Change:
    return [change for change in bar.changes if change.start <= position][-1]


def _pitch(symbol: ChordSymbol, degree: int, last: int) -> int:
    if degree == 8:
        # Where the octave leaves the range, the root itself stands for it.
        upper = nearest(bass_class(symbol), last) + 12
        return upper if upper <= BASS_RANGE[1] else upper - 12
    if degree != 1:
        name = symbol.degree(degree)
        if name is not None:
            return nearest(name.pitch_class, last)
    return nearest(bass_class(symbol), last)
