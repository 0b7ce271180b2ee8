"""Which small figures is the tune made of?

A cell is two to five notes of the tune with their rhythm, their place in the bar and their
shape. It opens a section or comes back in it, and it is what a listener would know again:
an opening, an ending on a longer note, a mixture of long and short count for it.

Conventions
-----------
* `place` is counted from the bar line; a cell that leads over the bar line begins before
  it, at a place below zero.
* Where a bar runs in equal notes throughout, its cell is what stands out of the run: the
  notes where the line turns or leaps (melodic accents).
* A cell of which a note is left out is a simpler one; it is marked as not plain.
* Shapes are in steps of the staff, so they are the same in every key.

Source: melodic accents at turning points as in Thomassen, J. Acoust. Soc. Am. 71 (1982),
from memory; the weights are our own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import log2

from kit.form.sections import Section
from kit.solo._melody import Heard, Melody
from kit.tune.model import Meter

__all__ = ["Cell", "Cells"]

Rhythm = tuple[Fraction, tuple[Fraction, ...]]

_AS_GOOD = 1.8
"""Cells that tell nearly as much of the tune; which of them is taken is its chance."""
_FOLLOWING = 8
"""More notes than a phrase takes of what comes after its cell."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A figure of the tune.

    Parameters
    ----------
    place : Fraction
        Where in its bar it begins, in quarter notes.
    onsets, durations : tuple of Fraction
        Of its notes, onsets from the first one.
    steps : tuple of int
        Staff steps from each note to the next.
    midi : int
        Its first note in the tune.
    number : int
        The printed bar in which it is first heard.
    opens : bool
        Whether it is the section's first figure.
    plain : bool
        Whether its rhythm is the tune's own, not made simpler for the level.
    after : tuple of (Fraction, Fraction)
        Onset and duration of what the tune plays next, up to a bar's length behind it;
        onsets from the cell's first.
    """

    place: Fraction
    onsets: tuple[Fraction, ...]
    durations: tuple[Fraction, ...]
    steps: tuple[int, ...]
    midi: int
    number: int
    opens: bool
    plain: bool
    after: tuple[tuple[Fraction, Fraction], ...] = ()

    @property
    def rhythm(self) -> Rhythm:
        """What makes two cells the same rhythm."""
        return self.place, self.onsets

    @property
    def span(self) -> Fraction:
        """From its first onset to its last."""
        return self.onsets[-1]


class Cells:
    """What a melody is made of, looked up as it is asked for.

    Parameters
    ----------
    melody : Melody
        Where they come from.
    """

    def __init__(self, melody: Melody) -> None:
        self._melody = melody
        self._every: dict[Meter, dict[Section, tuple[Cell, ...]]] = {}
        self._told: dict[tuple[Section, Meter], tuple[Cell, ...]] = {}
        self._landings: dict[Meter, tuple[Fraction, ...]] = {}
        self._closes: dict[tuple[Section, Meter], Cell | None] = {}

    def of(self, section: Section, meter: Meter) -> tuple[Cell, ...]:
        """Give a section's cells in bars of a meter that tell about as much of the tune.

        A section without any takes another section's.
        """
        if (section, meter) not in self._told:
            self._told[section, meter] = self._telling(section, meter)
        return self._told[section, meter]

    def _telling(self, section: Section, meter: Meter) -> tuple[Cell, ...]:
        if meter not in self._every:
            self._every[meter] = {
                one: tuple(_figures(self._melody, self._melody.line(one), meter))
                for one in self._melody.form.sections
            }
        every = [cell for row in self._every[meter].values() for cell in row]
        times = Counter(cell.rhythm for cell in every)
        for cells in (self._every[meter].get(section, ()), every):
            found: dict[Rhythm, Cell] = {}
            for cell in cells:
                if cell.opens or times[cell.rhythm] > 1:
                    found.setdefault(cell.rhythm, cell)
            if found:
                weights = {c: _telling(c, times[c.rhythm]) for c in found.values()}
                least = max(weights.values()) - _AS_GOOD
                return tuple(cell for cell, weight in weights.items() if weight >= least)
        return ()

    def landings(self, meter: Meter) -> tuple[Fraction, ...]:
        """Give the places on which the tune's long notes begin, most usual first."""
        if meter not in self._landings:
            self._landings[meter] = _landing_places(self._melody, meter)
        return self._landings[meter]

    def last_figure(self, section: Section, meter: Meter) -> Cell | None:
        """Give the notes with which a section comes to rest, the last of them its goal.

        `place` is counted from the bar line of the last note's bar.
        """
        if (section, meter) not in self._closes:
            self._closes[section, meter] = _last_figure(self._melody, section, meter)
        return self._closes[section, meter]


def _telling(cell: Cell, times: int) -> float:
    """Weigh how well a listener would know the cell again."""
    gaps = [b - a for a, b in pairwise(cell.onsets)]
    mixed = len({*gaps, cell.durations[-1]}) > 1
    closed = cell.durations[-1] > max(gaps, default=Fraction(0))
    return (
        min(log2(times), 3) * 0.5
        + 2.0 * cell.opens
        + 1.0 * mixed
        + 0.5 * closed
        + 0.5 * min(len(cell.onsets), 4)
        # What begins on the first beat and walks on in beats is in every tune.
        + 0.4 * (cell.place != 0)
    )


def _figures(melody: Melody, line: Sequence[Heard], meter: Meter) -> Iterator[Cell]:
    bars = melody.sheet.bars
    notes = [note for note in line if bars[note.index].meter == meter]
    if not notes:
        return
    most = melody.limits.cell[1]
    for start in range(len(notes)):
        if not _begins(notes, start):
            continue
        for count in range(melody.limits.cell[0], most + 1):
            taken = notes[start : start + count]
            if len(taken) == count and _is_one(taken, meter):
                after = notes[start + count : start + count + _FOLLOWING]
                whole = _cell(melody, taken, meter, opens=start == 0, after=after)
                yield whole
                yield from _thinned(whole, melody.limits.cell[0])
    for start, taken in _accents(notes, meter, most):
        if len(taken) >= 2:
            yield _cell(melody, taken, meter, opens=start == 0)


def _thinned(cell: Cell, fewest: int) -> Iterator[Cell]:
    """Yield a cell with one of its notes left out; the note before it is held."""
    count = len(cell.onsets)
    if count <= max(fewest, 2):
        return
    for k in range(1, count - 1):
        durations = list(cell.durations)
        durations[k - 1] = cell.onsets[k + 1] - cell.onsets[k - 1]
        steps = list(cell.steps)
        steps[k - 1 : k + 1] = [steps[k - 1] + steps[k]]
        yield replace(
            cell,
            onsets=(*cell.onsets[:k], *cell.onsets[k + 1 :]),
            durations=(*durations[:k], *durations[k + 1 :]),
            steps=tuple(steps),
            plain=False,
        )


def _begins(notes: Sequence[Heard], place: int) -> bool:
    """Whether a figure may begin here: at the start, a bar line, or behind a long note."""
    if place == 0 or notes[place].place == 0:
        return True
    before = notes[place - 1]
    gap = notes[place].moment - before.moment
    after = notes[place + 1].moment - notes[place].moment if place + 1 < len(notes) else gap
    return gap > after or before.end < notes[place].moment


def _is_one(notes: Sequence[Heard], meter: Meter) -> bool:
    """Whether notes hang together: within a bar's length, with no silence of a beat."""
    joined = all(b.moment - a.end < meter.pulse for a, b in pairwise(notes))
    return joined and notes[-1].moment - notes[0].moment < meter.bar_length


def _accents(
    notes: Sequence[Heard], meter: Meter, most: int
) -> Iterator[tuple[int, list[Heard]]]:
    """Yield what stands out of each bar that runs in equal notes."""
    start = 0
    while start < len(notes):
        index = notes[start].index
        end = start
        while end < len(notes) and notes[end].index == index:
            end += 1
        gaps = {b.moment - a.moment for a, b in pairwise(notes[start:end])}
        if end - start >= 5 and len(gaps) == 1 and max(gaps) < meter.pulse:
            taken = [k for k in range(start, end) if k == start or _stands_out(notes, k)]
            yield start, [notes[k] for k in taken[:most]]
        start = end


def _stands_out(notes: Sequence[Heard], k: int) -> bool:
    if not 0 < k < len(notes) - 1:
        return False
    rise = notes[k].pitch.midi - notes[k - 1].pitch.midi
    on = notes[k + 1].pitch.midi - notes[k].pitch.midi
    return rise * on < 0 or abs(rise) > 4


def _cell(
    melody: Melody,
    notes: Sequence[Heard],
    meter: Meter,
    *,
    opens: bool,
    after: Sequence[Heard] = (),
) -> Cell:
    first = notes[0]
    place = first.place
    onsets = tuple(note.moment - first.moment for note in notes)
    # What begins in the second half and goes on behind the bar line leads into it.
    if place + onsets[-1] >= meter.bar_length and 2 * place >= meter.bar_length:
        place -= meter.bar_length
    steps = tuple(b.pitch.diatonic - a.pitch.diatonic for a, b in pairwise(notes))
    bars = melody.sheet.bars
    gaps = [b - a for a, b in pairwise(onsets)]
    durations = tuple(
        min(note.duration, gap) if gap - note.duration >= meter.pulse else gap
        for note, gap in zip(notes, gaps, strict=False)
    )
    last = min(notes[-1].duration, meter.bar_length)
    return Cell(
        place, onsets, (*durations, last), steps, first.pitch.midi,
        bars[notes[0].index if place >= 0 else notes[-1].index].number, opens,
        all(note.plain for note in notes),
        tuple((note.moment - first.moment, note.duration) for note in after),
    )  # fmt: skip


def _last_figure(melody: Melody, section: Section, meter: Meter) -> Cell | None:
    line = melody.line(section)
    bars = melody.sheet.bars
    if not line or bars[line[-1].index].meter != meter:
        return None
    last = line[-1]
    most = melody.limits.cell[1]
    inside = [n for n in line if last.moment - n.moment < meter.bar_length][-most:]
    cell = _cell(melody, inside, meter, opens=False)
    return replace(cell, place=last.place - cell.onsets[-1])


def _landing_places(melody: Melody, meter: Meter) -> tuple[Fraction, ...]:
    places: Counter[Fraction] = Counter()
    for line in melody.lines():
        for note in line:
            same = melody.sheet.bars[note.index].meter == meter
            if same and note.duration >= meter.pulse:
                places[note.place] += 1
    return tuple(place for place, _ in sorted(places.items(), key=lambda i: (-i[1], i[0])))
