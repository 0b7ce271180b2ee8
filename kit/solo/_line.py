"""Which pitches make a singable line of given moments?

At each moment there are pitches to choose from; the line is the choice that costs least as
a whole: small steps are cheap, repeats and leaps dear, and a curve pulls it up and down.
Where a moment has a shape to keep, what departs from it costs more. A large leap that is
not answered by a step back is dear, and one note may come only so often in a row: a player
who goes on with it sounds stuck. A little chance, fixed by the seed, makes lines differ.

Source: shortest path by dynamic programming (Viterbi 1967, from memory); the prices are our
own. Leaps are filled by a step back in every handbook of melody writing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from kit.tune.pitch import Pitch

__all__ = ["Moment", "singable_line"]

_INTERVAL_COST = (2.2, 0.2, 0.0, 0.2, 0.3, 0.6, 1.6, 0.8, 2.2, 2.4, 5.0, 6.0, 5.0)
"""By half steps from 0 to 12; further is dearer still."""
_BEYOND = 12.0
_PULL = 0.12
_CHANCE = 0.9
_LARGE = 7
"""Half steps from which on a leap wants to be answered."""
_UNANSWERED = 2.5
_SHAPE = 0.45
_OTHER_WAY = 3.0
_STUCK = 60.0
"""Dearer than any leap, yet not forbidden: there may be no other pitch to choose."""


@dataclass(frozen=True, slots=True)
class Moment:
    """The pitches a note may take.

    Parameters
    ----------
    pitches : tuple of Pitch
        One at least.
    drawn_to : float
        The MIDI number that it is drawn to.
    pull : float
        How strongly, in cost a half step.
    prices : tuple of float
        What each pitch costs beside; nothing if empty.
    shape : int, optional
        Half steps from the note before that the line would like to make.
    joined : bool
        Whether the note before goes straight on to it.
    """

    pitches: tuple[Pitch, ...]
    drawn_to: float
    pull: float = _PULL
    prices: tuple[float, ...] = ()
    shape: int | None = None
    joined: bool = True


@dataclass(frozen=True, slots=True)
class _State:
    """The cheapest way to a pitch, and where it comes from."""

    cost: float
    before: _Key | None


# Which of the moment's pitches, after a large leap up (1), down (-1) or none (0), and how
# often the pitch has come in a row.
_Key = tuple[int, int, int]


def singable_line(
    moments: Sequence[Moment],
    *,
    before: Pitch | None = None,
    alike: int = 1,
    most_alike: int | None = None,
    rng: Random,
) -> tuple[Pitch, ...]:
    """Choose one pitch for each moment.

    Parameters
    ----------
    moments : sequence of Moment
        In order, each with a pitch to choose at least.
    before : Pitch, optional
        The note that the line goes on from.
    alike : int
        How often that note has come in a row.
    most_alike : int, optional
        How often one pitch may come in a row, if there are others to choose.
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
    rows: list[dict[_Key, _State]] = []
    for place, moment in enumerate(moments):
        row: dict[_Key, _State] = {}
        for k, pitch in enumerate(moment.pitches):
            own = moment.pull * abs(pitch.midi - moment.drawn_to) + rng.uniform(0, _CHANCE)
            own += moment.prices[k] if moment.prices else 0.0
            if place == 0:
                size = pitch.midi - before.midi if before else 1
                run = 1 if size else alike + 1
                start = _interval(size) if before else 0.0
                row[k, 0, run] = _State(own + start + _stuck(run, most_alike), None)
                continue
            for last, state in rows[-1].items():
                k_before, leap, run_before = last
                size = pitch.midi - moments[place - 1].pitches[k_before].midi
                # Without a limit nobody counts.
                run = 1 if size or most_alike is None else run_before + 1
                cost = state.cost + own + _step(size, leap, moment)
                cost += _stuck(run, most_alike)
                key = (k, _sign(size) if abs(size) > _LARGE else 0, run)
                if key not in row or cost < row[key].cost:
                    row[key] = _State(cost, last)
        rows.append(row)
    return _traced(moments, rows)


def _stuck(run: int, most: int | None) -> float:
    return _STUCK if most is not None and run > most else 0.0


def _traced(
    moments: Sequence[Moment], rows: Sequence[dict[_Key, _State]]
) -> tuple[Pitch, ...]:
    key: _Key | None = min(rows[-1], key=lambda item: (rows[-1][item].cost, item))
    line: list[Pitch] = []
    for moment, row in zip(reversed(moments), reversed(rows), strict=True):
        assert key is not None
        line.append(moment.pitches[key[0]])
        key = row[key].before
    return tuple(reversed(line))


def _step(size: int, leap: int, moment: Moment) -> float:
    """Price a step by its size, by the leap before it and by the shape it should have."""
    cost = _interval(size)
    if leap and not (0 < -leap * size <= 4):
        cost += _UNANSWERED
    if moment.shape is not None:
        # The tune makes this step: it is no dearer for being a leap or a repeat.
        cost = cost / 2 + _SHAPE * abs(size - moment.shape)
        if _sign(size) != _sign(moment.shape):
            cost += _OTHER_WAY
    return cost


def _sign(number: int) -> int:
    return (number > 0) - (number < 0)


def _interval(size: int) -> float:
    size = abs(size)
    if size < len(_INTERVAL_COST):
        return _INTERVAL_COST[size]
    return _BEYOND + 0.5 * (size - len(_INTERVAL_COST))
