"""At what second does a written position sound?

`Timeline` is the only place where positions become seconds. Beats fall exactly on the
route's bar-to-second map; only what lies between two beats is swung. `Drift` is the small
human error of one player: correlated from note to note, bounded, never in the count-in.

Source: 1/f-like, slowly wandering timing errors in ensembles: Hennig et al., *PLoS ONE*
6 (2011) e26457 (from memory); the first-order process and its sizes are our choice, below
the 20 to 30 ms at which two onsets are heard as two (Hirsh 1959, from memory).
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.band.swing import warp
from kit.route.tempo import STEADY, TempoMap

__all__ = ["DRIFT_S", "Drift", "Timeline", "TimelineBar"]

DRIFT_S = {"drums": 0.002, "bass": 0.004, "chords": 0.005, "melody": 0.006}
"""Standard deviation of each player's timing error, in seconds (our choice)."""


@dataclass(frozen=True, slots=True)
class TimelineBar:
    """Where a bar starts, how long its beat is and where its off-beats fall.

    The shares are of the `unit` that swings, a quarter or an eighth.
    """

    start: Fraction
    pulse: Fraction
    ensemble_share: float
    melody_share: float
    unit: Fraction = Fraction(1)


class Timeline:
    """Turns positions in quarter notes from the first click into seconds."""

    def __init__(
        self,
        bars: Sequence[TimelineBar],
        tempo_qpm: float,
        tempo_map: TempoMap = STEADY,
    ) -> None:
        if not tempo_qpm > 0:
            raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
        self._bars = tuple(bars)
        self._starts = [bar.start for bar in bars]
        self._tempo_qpm = tempo_qpm
        self._tempo_map = tempo_map

    def seconds(self, position: Fraction, *, soloist: bool = False) -> float:
        """Give the second of a position; the soloist's off-beats may come earlier."""
        bar = self._bars[max(0, bisect_right(self._starts, position) - 1)]
        units, place = divmod((position - bar.start) / bar.unit, 1)
        share = bar.melody_share if soloist else bar.ensemble_share
        swung = bar.unit * units + bar.start
        quarters = float(swung) + float(bar.unit) * warp(place, share)
        return self._tempo_map.seconds(quarters, self._tempo_qpm)

    def on_beat(self, position: Fraction) -> bool:
        """Say whether a position is on a beat of its bar."""
        bar = self._bars[max(0, bisect_right(self._starts, position) - 1)]
        return ((position - bar.start) / bar.pulse).denominator == 1

    def swings(self, position: Fraction) -> bool:
        """Say whether the bar at a position is swung."""
        bar = self._bars[max(0, bisect_right(self._starts, position) - 1)]
        return bar.ensemble_share > 0.51


class Drift:
    """One player's timing error: a bounded first-order random walk around zero."""

    _MEMORY = 0.7

    def __init__(self, spread_s: float, rng: random.Random) -> None:
        self._spread_s = spread_s
        self._rng = rng
        self._error = 0.0

    def next_s(self) -> float:
        """Give the next note's error in seconds, at most 2.5 standard deviations."""
        # This share keeps the variance at 1, however long the memory.
        fresh = self._rng.gauss(0.0, (1.0 - self._MEMORY**2) ** 0.5)
        self._error = self._MEMORY * self._error + fresh
        self._error = max(-2.5, min(2.5, self._error))
        return self._error * self._spread_s
