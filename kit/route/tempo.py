"""How does the tempo run over a performance, and what second is a position then?

Most routes are steady. A route that ends in a ritardando slows down over the bars before
the last chord; this map is the only place that knows it, so that audio, page, chapters and
MIDI slow down together.

Conventions
-----------
* Positions are quarter notes from the first click, tempi quarter notes a minute.
* A step of the map is (position, share): from there on the tempo is that share of the
  level's. Shares do not depend on the tempo, so the map of a slower rendering is the same
  map drawn out.

Source: a final ritardando as a stopping runner slows down, v(x) = (1 + (w³ − 1)x)^(1/3):
Friberg & Sundberg, *J. Acoust. Soc. Am.* 105 (1999), pp. 1469-1484 (from memory). The last
tempo w = 0.6 and the length of two bars are our choice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

__all__ = ["STEADY", "TempoMap", "quarters_to_seconds", "ritardando"]

LAST_SHARE = 0.6
_CURVE = 3
_STEP = Fraction(1, 2)


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

    Raises
    ------
    ValueError
        If the steps are not in order or a share is not above zero.

    Examples
    --------
    >>> TempoMap(((Fraction(4), 0.5),)).seconds(Fraction(6), 120)
    4.0
    """

    steps: tuple[tuple[Fraction, float], ...] = ()

    def __post_init__(self) -> None:
        """Check the steps."""
        if any(a[0] >= b[0] for a, b in pairwise(self.steps)):
            raise ValueError("the steps of a tempo map must be in order")
        if any(not share > 0 for _, share in self.steps):
            raise ValueError("a tempo must be above zero")

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
        return (place + drawn_out) * 60.0 / tempo_qpm

    def quarters(self, seconds: float, tempo_qpm: float) -> float:
        """Give the position that sounds at a second: the inverse of `seconds`.

        Parameters
        ----------
        seconds : float
            From the first click.
        tempo_qpm : float > 0
            Quarter notes per minute.

        Returns
        -------
        float
            Quarter notes from the first click.

        Raises
        ------
        ValueError
            If the tempo is not above zero and there are steps.
        """
        starts = [self.seconds(start, tempo_qpm) for start, _ in self.steps]
        step = bisect_right(starts, seconds) - 1
        if step < 0:
            return seconds * tempo_qpm / 60.0
        position, share = self.steps[step]
        return float(position) + (seconds - starts[step]) * tempo_qpm * share / 60.0

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
