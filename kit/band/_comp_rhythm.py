"""When does the chord player play, and what does that do for the melody?

A section is played in stretches of four bars. In each a cell of the feel is kept for all of
them or for two and two, and varied in the last bar, so that it is heard as a rhythm and not
as chance. Which cell it is depends on the melody: strokes fall rather where it rests or
holds, a dense melody gets few, a light chorus takes sparse cells and a full one busy ones.
Under a melody that runs, strokes of free comping are left out; the patterns of dances are
played as they stand. Every chord that lasts two beats is heard at least once.

Source: common practice; the weights are our own.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from fractions import Fraction

from kit.band._figures import comp_patterns
from kit.band.chart import ChartBar
from kit.band.events import PartNote
from kit.band.feel import CompPattern

__all__ = ["Melody", "Stroke", "strokes_of"]

Stroke = tuple[Fraction, Fraction]
"""Start and length in quarter notes."""
Cell = tuple[CompPattern, ...]
"""One pattern for each group of beats of a bar."""

_UNIT_BARS = 4
_STOP = Fraction(1, 2)
"""In stop-time a stroke lasts half a beat (common practice)."""
# How well a stroke stands beside the melody.
_REST, _HOLD, _MOVES, _RUNS = 1.2, 1.0, -0.5, -1.0
_MELODY, _COUNT, _CHANCE = 1.0, 0.6, 0.8
_BUSY = 1.4
"""Notes a beat: running eighths are 2, a singing line is 1 or fewer (our choice)."""


class Melody:
    """The melody as performed, to be listened to at a moment.

    Parameters
    ----------
    notes : sequence of PartNote
        In order, one at a time.
    """

    def __init__(self, notes: Sequence[PartNote]) -> None:
        self.notes = notes
        self._starts = [note.start for note in notes]

    def between(self, start: Fraction, stop: Fraction) -> list[PartNote]:
        """Give the notes that sound in a stretch."""
        first = max(0, bisect_right(self._starts, start) - 1)
        last = bisect_left(self._starts, stop)
        return [note for note in self.notes[first:last] if note.end > start]

    def begun(self, start: Fraction, stop: Fraction) -> int:
        """Count the notes that begin in a stretch."""
        return bisect_left(self._starts, stop) - bisect_left(self._starts, start)

    def last_at(self, moment: Fraction) -> int | None:
        """Give the MIDI number of the note that began last, if any has."""
        place = bisect_right(self._starts, moment) - 1
        return self.notes[place].midi if place >= 0 else None

    def room(self, moment: Fraction, beat: Fraction) -> float:
        """Say how well a chord can be struck at a moment, from -1 to 1.2."""
        place = bisect_right(self._starts, moment) - 1
        if place < 0 or self.notes[place].end <= moment:
            return _REST
        half = beat / 2
        follows = place + 1 < len(self.notes) and self._starts[place + 1] - moment < half
        late = moment - self._starts[place] < half
        if late and follows:
            return _RUNS
        return _MOVES if late or follows else _HOLD


def strokes_of(
    bars: Sequence[ChartBar], melody: Melody, *, seed: int
) -> list[list[Stroke]]:
    """Give the strokes of each bar, in order; the final bar has none.

    Parameters
    ----------
    bars : sequence of ChartBar
        The whole chart.
    melody : Melody
        As performed.
    seed : int
        The same one gives the same strokes; a change in one bar changes its own stretch.
    """
    rhythm: list[list[Stroke]] = []
    for unit in _units([bar for bar in bars if not bar.is_final]):
        rng = random.Random(f"{seed}/{len(rhythm)}")
        for bar, cell in zip(unit, _cells(unit, melody, rng), strict=True):
            rhythm.append(_strokes(bar, cell, melody))
    return rhythm + [[] for bar in bars if bar.is_final]


def _units(bars: Sequence[ChartBar]) -> Iterator[list[ChartBar]]:
    """Split the chart into stretches of at most four like bars within a section."""
    unit: list[ChartBar] = []
    for bar in bars:
        if unit and (
            len(unit) == _UNIT_BARS
            or bar.opens_section
            or bar.feel is not unit[-1].feel
            or (bar.groups, bar.pulse) != (unit[-1].groups, unit[-1].pulse)
            or bar.band != unit[-1].band
        ):
            yield unit
            unit = []
        unit.append(bar)
    if unit:
        yield unit


def _cells(unit: Sequence[ChartBar], melody: Melody, rng: random.Random) -> list[Cell]:
    """Choose the cells of a stretch: one or two that are kept, one that varies."""
    if unit[0].feel.cycle > 1:
        # A figure of several bars is kept by itself: each bar has its own side of it.
        return [_best([bar], melody, rng, ()) for bar in unit]
    kept = _best(unit, melody, rng, ())
    cells = [kept] * len(unit)
    if len(unit) == _UNIT_BARS and rng.random() < 0.5:
        other = _best(unit[2:], melody, rng, (kept,))
        cells[2:] = [other] * 2
    if len(unit) > 1:
        cells[-1] = _best(unit[-1:], melody, rng, tuple(dict.fromkeys(cells)))
    return cells


def _best(
    bars: Sequence[ChartBar], melody: Melody, rng: random.Random, without: tuple[Cell, ...]
) -> Cell:
    """Choose the cell that suits some bars best, another than those already used."""
    chosen: list[CompPattern] = []
    beat = 0
    for index, group in enumerate(bars[0].groups):
        offered = comp_patterns(bars[0], index)
        used = [cell[index] for cell in without]
        fresh = [pattern for pattern in offered if pattern not in used] or list(offered)
        scored = [
            (
                sum(_score(bar, pattern, beat, group, melody) for bar in bars) / len(bars)
                + _CHANCE * rng.random(),
                -place,
            )
            for place, pattern in enumerate(fresh)
        ]
        chosen.append(fresh[-max(scored)[1]])
        beat += group
    return tuple(chosen)


def _score(
    bar: ChartBar, pattern: CompPattern, beat: int, group: int, melody: Melody
) -> float:
    places = [bar.moment(beat + at) for at, _ in pattern.hits if at < group]
    inside = melody.begun(bar.start, bar.end)
    # A light chorus has one or two strokes in four beats, a full one three.
    wanted = group / 4 * (3.2 * bar.fullness - 0.3)
    if inside > _BUSY * bar.beats:
        wanted /= 2
    score = -_COUNT * abs(len(places) - wanted)
    if inside and places:
        rooms = [melody.room(place, bar.pulse) for place in places]
        score += _MELODY * sum(rooms) / len(rooms)
    return score


def _strokes(bar: ChartBar, cell: Cell, melody: Melody) -> list[Stroke]:
    if bar.band in ("drums", "silent"):
        return []
    if bar.band == "stop-time":
        return [(bar.start, _STOP * bar.pulse)]
    strokes: list[Stroke] = []
    beat = 0
    for group, pattern in zip(bar.groups, cell, strict=True):
        placed = [
            (bar.moment(beat + at), length * bar.pulse)
            for at, length in pattern.hits
            if at < group and bar.moment(beat + at) < bar.end
        ]
        strokes += _thinned(placed, bar, melody) if pattern.name else placed
        beat += group
    strokes += _missing(bar, strokes)
    return _cut(sorted(strokes), bar)


def _thinned(strokes: list[Stroke], bar: ChartBar, melody: Melody) -> list[Stroke]:
    """Leave out what would be struck into a run, but for the stroke with most room."""
    rooms = [melody.room(start, bar.pulse) for start, _ in strokes]
    if not rooms or min(rooms) > _RUNS:
        return strokes
    keep = rooms.index(max(rooms))
    return [
        stroke
        for place, (stroke, room) in enumerate(zip(strokes, rooms, strict=True))
        if room > _RUNS or place == keep
    ]


def _missing(bar: ChartBar, strokes: Sequence[Stroke]) -> list[Stroke]:
    """State the chords that last two beats or more and that the pattern passes over."""
    return [
        (change.start, min(change.end - change.start, 2 * bar.pulse) * 9 / 10)
        for change in bar.changes
        if change.end - change.start >= min(2 * bar.pulse, bar.length)
        # A stroke just ahead of it has stated it already.
        and not any(
            change.start - bar.lead <= start < change.end - bar.lead for start, _ in strokes
        )
    ]


def _cut(strokes: list[Stroke], bar: ChartBar) -> list[Stroke]:
    """End each stroke before the next and before a change it does not belong to."""
    cut: list[Stroke] = []
    for index, (start, length) in enumerate(strokes):
        stop = min(start + length, bar.hold_until) if start < bar.hold_until else bar.end
        if index + 1 < len(strokes):
            stop = min(stop, strokes[index + 1][0])
        for change in bar.changes:
            # A stroke just ahead of a change already sounds the new chord in some feels.
            if start < change.start - bar.lead:
                stop = min(stop, change.start)
        cut.append((start, stop - start))
    return cut
