"""Where does a player breathe in a line that goes on longer than a breath?

A phrase goes on until a rest long enough to breathe in, or a written breath mark. Where it
is longer than a breath, the places to breathe are chosen as a teacher would: as late as the
breath allows, best behind a long note, at a bar line, at the end of an even number of bars,
and never within a tie.

Times are in quarter notes.

Source: common practice; `QUICKEST_BREATH_S` and the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["BREATH_MARKS", "QUICKEST_BREATH_S", "BlownNote", "breaths_in", "phrases_of"]

QUICKEST_BREATH_S = 0.25
"""A rest shorter than this is too short to breathe in."""
BREATH_MARKS = frozenset({"breath-mark", "caesura"})
_EARLIEST_SHARE = 0.4
"""Nobody breathes again before so much of a breath is used."""


@dataclass(frozen=True, slots=True)
class BlownNote:
    """A note with its time as played.

    `tied` says that it is held on by the next one, `marked` that a breath is written behind
    it, `ends_bar` that it stops with its bar, `ends_pair` that the bar is second of two.
    """

    start: Fraction
    end: Fraction
    tied: bool = False
    marked: bool = False
    ends_bar: bool = False
    ends_pair: bool = False


def phrases_of(notes: Sequence[BlownNote], tempo_qpm: float) -> Iterator[range]:
    """Yield the places of the notes between two chances to breathe.

    Parameters
    ----------
    notes : sequence of BlownNote
        In order.
    tempo_qpm : float > 0
        Quarter notes a minute.
    """
    least = QUICKEST_BREATH_S * tempo_qpm / 60
    first = 0
    for place in range(1, len(notes)):
        before = notes[place - 1]
        if notes[place].start - before.end >= least or before.marked:
            yield range(first, place)
            first = place
    if notes:
        yield range(first, len(notes))


def breaths_in(
    notes: Sequence[BlownNote], phrase: range, breath_quarters: float
) -> Iterator[int]:
    """Yield the places of the notes behind which to breathe, as few as will do.

    Parameters
    ----------
    notes : sequence of BlownNote
        In order.
    phrase : range
        One of `phrases_of`.
    breath_quarters : float > 0
        How long a breath lasts.
    """
    most = Fraction(breath_quarters)
    least = Fraction(_EARLIEST_SHARE * breath_quarters)
    first = phrase.start
    while notes[phrase[-1]].end - notes[first].start > most:
        start = notes[first].start
        reach = []
        for place in range(first, phrase.stop - 1):
            length = notes[place].end - start
            if length > most:
                break
            if length >= least and not notes[place].tied:
                reach.append(place)
        if not reach:
            return
        best = max(reach, key=lambda at: _merit(notes[at], start, breath_quarters))
        yield best
        first = best + 1


def _merit(note: BlownNote, start: Fraction, breath_quarters: float) -> float:
    length = min(float(note.end - note.start), 2.0)
    lateness = float(note.end - start) / breath_quarters
    return length + lateness + note.ends_bar + (note.ends_bar and note.ends_pair)
