"""Which pitches make a singable line of given moments?

At each moment there are pitches to choose from; the line is the choice that costs least as
a whole: small steps are cheap, repeats and leaps dear, and a curve pulls it up and down. A
little chance, fixed by the seed, makes lines differ.

Source: shortest path by dynamic programming (Viterbi 1967, from memory); the prices are our
own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from kit.tune.pitch import Pitch

__all__ = ["Moment", "singable_line"]

_INTERVAL_COST = (1.6, 0.2, 0.0, 0.2, 0.3, 0.6, 1.6, 0.8, 1.8, 1.8, 2.4, 2.6, 2.0)
"""By half steps from 0 to 12; further is dearer still."""
_BEYOND = 4.0
_PULL = 0.12
_CHANCE = 0.9


@dataclass(frozen=True, slots=True)
class Moment:
    """The pitches a note may take, and the MIDI number that it is drawn to."""

    pitches: tuple[Pitch, ...]
    drawn_to: float


def singable_line(
    moments: Sequence[Moment], *, before: Pitch | None = None, rng: Random
) -> tuple[Pitch, ...]:
    """Choose one pitch for each moment.

    Parameters
    ----------
    moments : sequence of Moment
        In order, each with a pitch to choose at least.
    before : Pitch, optional
        The note that the line goes on from.
    rng : Random
        Where the little chance comes from.

    Raises
    ------
    ValueError
        If a moment has nothing to choose from.
    """
    if any(not moment.pitches for moment in moments):
        raise ValueError("a moment of the line has no pitch to choose from")
    if not moments:
        return ()
    costs: list[list[tuple[float, int]]] = []
    for place, moment in enumerate(moments):
        row: list[tuple[float, int]] = []
        for pitch in moment.pitches:
            own = _PULL * abs(pitch.midi - moment.drawn_to) + rng.uniform(0, _CHANCE)
            if place == 0:
                row.append((own + (_step(before, pitch) if before else 0.0), -1))
                continue
            earlier = moments[place - 1].pitches
            best = min(
                (costs[-1][k][0] + _step(pitch_before, pitch), k)
                for k, pitch_before in enumerate(earlier)
            )
            row.append((best[0] + own, best[1]))
        costs.append(row)
    k = min(range(len(costs[-1])), key=lambda n: costs[-1][n][0])
    line: list[Pitch] = []
    for place in reversed(range(len(moments))):
        line.append(moments[place].pitches[k])
        k = costs[place][k][1]
    return tuple(reversed(line))


def _step(one: Pitch, other: Pitch) -> float:
    size = abs(one.midi - other.midi)
    if size < len(_INTERVAL_COST):
        return _INTERVAL_COST[size]
    return _BEYOND + 0.5 * (size - len(_INTERVAL_COST))
