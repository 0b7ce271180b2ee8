"""How does the tempo run over a performance, and what second is a position then?

Most routes are steady. A route that ends in a ritardando slows down over the bars before
the last chord, and a fermata holds its note; this map is the only place that knows it, so
that audio, page, chapters and MIDI slow down together.

Conventions
-----------
* Positions are quarter notes from the first click, tempi quarter notes a minute; seconds
  are counted from the first sample, a moment before it.
* A step of the map is (position, share): from there on the tempo is that share of the
  level's. Shares do not depend on the tempo, so the map of a slower rendering is the same
  map drawn out.

Source: a final ritardando as a stopping runner slows down, v(x) = (1 + (w³ − 1)x)^(1/3):
Friberg & Sundberg, *J. Acoust. Soc. Am.* 105 (1999), pp. 1469-1484 (from memory). The last
tempo w = 0.6 and the length of two bars are our choice. A fermata about doubles its note
(common practice; Türk, *Klavierschule* (1789), from memory). The quarter of a second before
the first click is common practice too: players and wireless loudspeakers swallow a file's
first moment.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from kit.tune.model import Note

__all__ = [
    "SILENCE_S",
    "STEADY",
    "TempoMap",
    "fermatas",
    "held",
    "quarters_to_seconds",
    "ritardando",
    "ritardando_into",
]

LAST_SHARE = 0.6
FERMATA_SHARE = 0.5
SILENCE_S = 0.25
"""What a file begins with, at its level's own tempo."""
_CURVE = 3
_STEP = Fraction(1, 2)
_RITARDANDO_BARS = 2


def quarters_to_seconds(quarters: Fraction, tempo_qpm: float) -> float:
    """Turn a length in quarter notes into seconds at a steady tempo.

    Raises
    ------
    ValueError
        If the tempo is not above zero.
    """
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    return float(quarters) * 60.0 / tempo_qpm


@dataclass(frozen=True, slots=True)
class TempoMap:
    """Steps of (position, share of the tempo) in order; before the first it is 1.

    `silence` quarter notes pass before position 0.

    Raises
    ------
    ValueError
        If the steps are not in order, a share is not above zero or the silence below it.

    Examples
    --------
    >>> TempoMap(((Fraction(4), 0.5),)).seconds(Fraction(6), 120)
    4.0
    """

    steps: tuple[tuple[Fraction, float], ...] = ()
    silence: float = 0.0

    def __post_init__(self) -> None:
        """Check the steps."""
        if any(a[0] >= b[0] for a, b in pairwise(self.steps)):
            raise ValueError("the steps of a tempo map must be in order")
        if any(not share > 0 for _, share in self.steps):
            raise ValueError("a tempo must be above zero")
        if not self.silence >= 0:
            raise ValueError("a silence cannot be shorter than nothing")

    def seconds(self, quarters: Fraction | float, tempo_qpm: float) -> float:
        """Give the second of a position.

        Raises
        ------
        ValueError
            If the tempo is not above zero.
        """
        if not tempo_qpm > 0:
            raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
        place = float(quarters)
        # Only what the slowing adds: without steps the sum is 0 and a steady tempo exact.
        drawn_out = sum(
            (min(place, stop) - start) * (1.0 / share - 1.0)
            for start, stop, share in self._stretches(place)
        )
        return (self.silence + place + drawn_out) * 60.0 / tempo_qpm

    def quarters(self, seconds: float, tempo_qpm: float) -> float:
        """Give the position that sounds at a second: the inverse of `seconds`.

        Parameters
        ----------
        seconds : float
            From the first sample.
        tempo_qpm : float > 0
            Quarter notes per minute.

        Returns
        -------
        float
            Quarter notes from the first click; below zero in the silence before it.

        Raises
        ------
        ValueError
            If the tempo is not above zero and there are steps.
        """
        starts = [self.seconds(start, tempo_qpm) for start, _ in self.steps]
        step = bisect_right(starts, seconds) - 1
        if step < 0:
            return seconds * tempo_qpm / 60.0 - self.silence
        position, share = self.steps[step]
        return float(position) + (seconds - starts[step]) * tempo_qpm * share / 60.0

    def after_silence(self, tempo_qpm: float) -> TempoMap:
        """Give the map with the moment that a file begins with, `SILENCE_S` at a tempo.

        It is drawn out with everything else: a slower file stays the same map.
        """
        return replace(self, silence=SILENCE_S * tempo_qpm / 60.0)

    def _stretches(self, place: float) -> Iterator[tuple[float, float, float]]:
        stops = [*(float(start) for start, _ in self.steps[1:]), float("inf")]
        for (start, share), stop in zip(self.steps, stops, strict=False):
            if start >= place:
                return
            yield float(start), stop, share


STEADY = TempoMap()
"""One tempo from the first click to the end."""


def ritardando(start: Fraction, end: Fraction) -> TempoMap:
    """Slow down from `start` to `end`; what follows stays at the last tempo.

    The tempo changes every half quarter, too little at a time to be heard as steps.

    Raises
    ------
    ValueError
        If the end is not after the start.
    """
    if not start < end:
        raise ValueError(f"a ritardando cannot go from {start} to {end}")
    count = max(1, round((end - start) / _STEP))
    steps = []
    for number in range(count):
        # The curve in the middle of the step, so that the steps do not run ahead of it.
        middle = (number + 0.5) / count
        share = (1.0 + (LAST_SHARE**_CURVE - 1.0) * middle) ** (1.0 / _CURVE)
        steps.append((start + (end - start) * Fraction(number, count), round(share, 4)))
    return TempoMap((*steps, (end, LAST_SHARE)))


def ritardando_into(starts: Sequence[Fraction]) -> TempoMap:
    """Slow down over the two bars before the last, in which the last chord is struck.

    Parameters
    ----------
    starts : sequence of Fraction
        Where the full bars begin. A single one holds the last chord, and nothing before it
        can slow down.
    """
    if len(starts) < 2:
        return STEADY
    return ritardando(starts[max(0, len(starts) - 1 - _RITARDANDO_BARS)], starts[-1])


def fermatas(
    bars: Iterable[tuple[Fraction, Sequence[Note]]],
) -> tuple[tuple[Fraction, Fraction], ...]:
    """Find the stretches that fermatas hold.

    Parameters
    ----------
    bars : iterable of (Fraction, notes)
        Where each bar played begins, and what is played in it.
    """
    found = {
        (start + note.onset, start + note.end)
        for start, notes in bars
        for note in notes
        if "fermata" in note.marks
    }
    # A pick-up may lie over the bar before it: what overlaps is one hold.
    holds: list[tuple[Fraction, Fraction]] = []
    for start, end in sorted(found):
        if holds and start < holds[-1][1]:
            holds[-1] = (holds[-1][0], max(end, holds[-1][1]))
        else:
            holds.append((start, end))
    return tuple(holds)


def held(tempo_map: TempoMap, holds: Sequence[tuple[Fraction, Fraction]]) -> TempoMap:
    """Let time pass half as fast in some stretches, on top of a map.

    Parameters
    ----------
    tempo_map : TempoMap
        How the tempo runs without them.
    holds : sequence of (Fraction, Fraction)
        Start and end of each fermata; they may touch, and not overlap.

    Returns
    -------
    TempoMap
        Both together.
    """
    if not holds:
        return tempo_map
    ends = {place for hold in holds for place in hold}
    corners = sorted(ends | {start for start, _ in tempo_map.steps})
    steps: list[tuple[Fraction, float]] = []
    for corner in corners:
        below = [share for start, share in tempo_map.steps if start <= corner]
        share = below[-1] if below else 1.0
        if any(start <= corner < end for start, end in holds):
            share *= FERMATA_SHARE
        if share != (steps[-1][1] if steps else 1.0):
            steps.append((corner, share))
    return replace(tempo_map, steps=tuple(steps))
