"""The octave in which a part lies well.

Conventions
-----------
* An octave from which more than a few notes would have to be moved back into the range of
  the instrument is ruled out, if there is any other.
* Of the others one is taken in which every note lies in the level's comfortable range, if
  there is one; else the one of the least *burden*: how far notes leave the comfortable
  range (counted heavily), and how far the whole lies from the middle of it, in semitones
  averaged over the playing time.
* It does not matter in which octave the sheet was put down. Only a score stays where its
  sheet is, if it can.
* The levels of a lesson share the octave that suits them together, so that a student who
  moves up finds the melody where it was. A level leaves it where that serves its player:
  the shared octave is ruled out or not comfortable, and its own is.

Source: common practice of arrangers; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.instruments._moves import move_phrases, moved_count, octave
from kit.instruments._phrases import rows
from kit.instruments.table import Instrument, Range
from kit.tune.model import Bar

__all__ = ["Fit", "best_octave", "fits", "shared_octaves"]

# One in so many notes is a few; of a short tune one.
_FEW = 16
_STRAIN_WEIGHT = 8.0
# A note that is moved has left its line by an octave.
_MOVED_STRAIN = 12.0
# More than the middle can be missed by: a score is moved for its range only.
_UNUSUAL_SCORE = 12.0
_SERVES = 0.1
"""A level leaves the shared octave for so great a share of its notes made comfortable."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How a part lies in one octave.

    `moved` notes have to be moved back, or would have to be at the least where the octave
    `is_ruled_out`; `uncomfortable` is the share of the notes, 0.0 to 1.0, that leave the
    comfortable range or are moved; `burden` is in semitones.
    """

    moved: int
    is_ruled_out: bool
    uncomfortable: float
    burden: float

    @property
    def rank(self) -> tuple[bool, bool, float]:
        """The better, the smaller."""
        return self.is_ruled_out, self.uncomfortable > 0, self.burden


_Span = tuple[int, int, int]
"""MIDI numbers of a note, and of the lowest and the highest of it and its grace notes."""


def fits(bars: Sequence[Bar], instrument: Instrument, level: str) -> dict[int, Fit]:
    """Look at each octave by which written bars may be moved.

    Parameters
    ----------
    bars : sequence of Bar
        At the instrument's usual written pitch.
    instrument : Instrument
        Who reads them.
    level : str
        Whose comfortable range to aim at.

    Returns
    -------
    dict of int to Fit
        By octaves up from where the bars are; never empty.
    """
    spans = _spans(bars)
    full, comfortable = instrument.range_written, instrument.comfortable_range(level)
    reach = _reach(spans, full)
    count = sum(number for number, _ in spans.values())
    few = max(1, count // _FEW)
    # At the least what leaves the range is moved: no need to look closer at far octaves.
    moved = {octaves: _outside(spans, full, octaves) for octaves in reach}
    near = [octaves for octaves in reach if moved[octaves] <= few]
    moved |= {octaves: _moved(bars, full, octaves) for octaves in near if moved[octaves]}
    most = few
    if not any(moved[octaves] <= few for octaves in near):
        moved = {octaves: _moved(bars, full, octaves) for octaves in reach}
        most = min(moved.values())
    return {
        octaves: _fit(spans, octaves, moved[octaves], most, comfortable, instrument)
        for octaves in reach
    }


def best_octave(found: Mapping[int, Fit]) -> int:
    """Choose the octave that suits one level best, the lower of equals."""
    return min(found, key=lambda octaves: (found[octaves].rank, octaves))


def shared_octaves(levels: Sequence[Mapping[int, Fit]]) -> tuple[int, ...]:
    """Choose an octave for each level, one for all as far as that serves them."""
    if not levels:
        return ()
    every = sorted(set[int].intersection(*map(set, levels)))
    if not every:
        return tuple(map(best_octave, levels))

    def together(octaves: int) -> tuple[int, int, float]:
        ranks = [found[octaves].rank for found in levels]
        return (
            sum(rank[0] for rank in ranks),
            sum(rank[1] for rank in ranks),
            sum(rank[2] for rank in ranks),
        )

    shared = min(every, key=lambda octaves: (together(octaves), octaves))
    return tuple(_kept_or_own(found, shared) for found in levels)


def _kept_or_own(found: Mapping[int, Fit], shared: int) -> int:
    own = best_octave(found)
    there, here = found[shared], found[own]
    if there.is_ruled_out != here.is_ruled_out:
        return own
    eased = there.uncomfortable - here.uncomfortable
    return own if eased and (not here.uncomfortable or eased > _SERVES) else shared


def _spans(bars: Sequence[Bar]) -> dict[_Span, tuple[int, Fraction]]:
    """Add up how often and how long each pitch sounds: few pitches stand for many notes."""
    spans: dict[_Span, tuple[int, Fraction]] = {}
    for row in rows(bars):
        for placed in row:
            heights = [pitch.midi for pitch in placed.pitches]
            span = (heights[0], min(heights), max(heights))
            count, time = spans.get(span, (0, Fraction(0)))
            # A tied symbol is no other note, but it sounds on.
            spans[span] = (count + (not placed.is_held), time + placed.note.duration)
    return spans


def _reach(spans: Mapping[_Span, tuple[int, Fraction]], full: Range) -> list[int]:
    """Give the octaves in which notes fall into a range at all."""
    if not spans:
        return [0]
    low, high = min(span[0] for span in spans), max(span[0] for span in spans)
    # An octave more at either end, lest a narrow range fall between two of them.
    first = (full.low.midi - high) // 12
    last = -((low - full.high.midi) // 12)
    return list(range(first, last + 1))


def _outside(
    spans: Mapping[_Span, tuple[int, Fraction]], within: Range, octaves: int
) -> int:
    low, high = within.low.midi - 12 * octaves, within.high.midi - 12 * octaves
    return sum(
        count
        for (_, bottom, top), (count, _) in spans.items()
        if bottom < low or top > high
    )


def _moved(bars: Sequence[Bar], full: Range, octaves: int) -> int:
    """Count the notes that are moved if a part is written so many octaves up."""
    # The range is moved the other way, which comes to the same.
    there = Range(full.low + octave(-octaves), full.high + octave(-octaves))
    moves = move_phrases(bars, there)
    return sum(moved_count(row, moves) for row in rows(bars)) if moves else 0


def _fit(
    spans: Mapping[_Span, tuple[int, Fraction]],
    octaves: int,
    moved: int,
    most: int,
    comfortable: Range,
    instrument: Instrument,
) -> Fit:
    count = sum(number for number, _ in spans.values()) or 1
    total = sum((time for _, time in spans.values()), Fraction(0)) or Fraction(1)
    low, high = comfortable.low.midi - 12 * octaves, comfortable.high.midi - 12 * octaves
    strain = weighted = Fraction(0)
    for (midi, _, _), (_, time) in spans.items():
        # Grace notes pass by: they count only where the instrument has no such note.
        strain += time * max(low - midi, midi - high, 0)
        weighted += time * midi
    beyond = sum(n for (midi, _, _), (n, _) in spans.items() if not low <= midi <= high)
    burden = _STRAIN_WEIGHT * (float(strain / total) + _MOVED_STRAIN * moved / count)
    burden += float(abs(weighted / total - Fraction(low + high, 2)))
    if instrument.family == "score":
        burden += _UNUSUAL_SCORE * abs(octaves)
    return Fit(moved, moved > most, max(beyond, moved) / count, burden)
