"""What does the bass play when it does not walk: in two, in one, on a Latin figure?

The feel's pattern says where and on which chord degree. Over it stand three rules: a note
on a change is the root (or the slash bass), every change gets one, and the line stays in
the instrument's range by the smallest move. An early note of a pattern gives a change its
root ahead of time and holds it into the new chord, as a tumbao does; that change is then
not struck again.

Source: common practice; the double bass sounds from E1, MIDI 28.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from kit.band._figures import bass_patterns
from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote
from kit.band.feel import BassNote
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


@dataclass(frozen=True, slots=True)
class _Planned:
    """A note before it has a pitch: how long it may last, over which change."""

    start: Fraction
    length: Fraction
    degree: int
    change: Change


def play_pattern(
    bars: Sequence[ChartBar],
    *,
    rng: random.Random,
    after: int | None = None,
    into: Change | None = None,
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
    into : Change, optional
        What follows the last bar; an early note may lead into it.
    """
    planned = _planned(bars, into, rng)
    notes: list[PartNote] = []
    last = after if after is not None else 38
    for place, note in enumerate(planned):
        symbol = note.change.symbol
        if symbol is None:
            continue
        follows = planned[place + 1].start if place + 1 < len(planned) else bars[-1].end
        # No note lasts on into a chord for which it was not chosen.
        stop = min(note.start + note.length, follows, note.change.end)
        on_change = note.start <= note.change.start
        last = _pitch(symbol, 1 if on_change else note.degree, last)
        velocity = (86 if on_change else 76) + rng.randrange(-3, 4)
        notes.append(PartNote(note.start, stop - note.start, last, velocity))
    return notes


def _planned(
    bars: Sequence[ChartBar], into: Change | None, rng: random.Random
) -> list[_Planned]:
    """Lay the patterns out, in order, with a root on every change they pass over."""
    changes = [change for bar in bars for change in bar.changes]
    coming = [*changes[1:], into]
    follows = dict(zip([change.start for change in changes], coming, strict=True))
    by_start: dict[Fraction, _Planned] = {}
    struck: set[Fraction] = set()
    for bar in bars:
        for change in bar.changes:
            # Where the pattern rests on a change its root is played all the same.
            if change.symbol is not None and change.start not in struck:
                by_start[change.start] = _Planned(change.start, 2 * bar.pulse, 1, change)
        for start, note in _places(bar, rng):
            change = _change_at(bar, start)
            target = follows[change.start] if note.early else None
            reach = bar.pulse / (2 if bar.is_closer else 1)
            ahead = target is not None and target.symbol is not None
            if target is not None and ahead and target.start - start <= reach:
                struck.add(target.start)
                by_start.pop(target.start, None)
                change = target
            elif start == change.start and start in struck:
                continue
            length = note.beats * bar.pulse
            if start < bar.hold_until < bar.end:
                length = min(length, bar.hold_until - start)
            by_start[start] = _Planned(start, length, note.degree, change)
    return sorted(by_start.values(), key=lambda note: note.start)


def _places(bar: ChartBar, rng: random.Random) -> list[tuple[Fraction, BassNote]]:
    places: list[tuple[Fraction, BassNote]] = []
    beat = 0
    for index, group in enumerate(bar.groups):
        for note in rng.choice(bass_patterns(bar, index)):
            start = bar.moment(beat + note.at)
            if note.at < group and start < bar.end:
                places.append((start, note))
        beat += group
    return places


def _change_at(bar: ChartBar, position: Fraction) -> Change:
    return [change for change in bar.changes if change.start <= position][-1]


def _pitch(symbol: ChordSymbol, degree: int, last: int) -> int:
    if degree == 8:
        # The root above the last note; where it leaves the range, the root itself.
        upper = nearest(bass_class(symbol), last)
        upper += 12 if upper <= last else 0
        return upper if upper <= BASS_RANGE[1] else upper - 12
    if degree != 1:
        name = symbol.degree(degree)
        if name is not None:
            return nearest(name.pitch_class, last)
    return nearest(bass_class(symbol), last)
