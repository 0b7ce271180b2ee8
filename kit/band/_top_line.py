"""Which of its layouts does each chord take, so that the top notes make a line?

The strokes are looked at together: of all ways through their layouts the cheapest is taken
(a shortest path, stroke by stroke). Cheap is a top note that moves by step, against the
melody rather than with it, and voices that stay close; dear are leaps, a top note struck
again and again, the same two notes to and fro; a fifth stroke on one top note, and a top
that jumps by more than a sixth, are all but forbidden. Only in a dance whose chords are an
after-beat or a steady pulse may a chord that goes on keep its grip for longer, up to a
phrase of four bars: there the right hand is a drum, and a triad has no step to go to
(common practice of guitar, accordion and stride players). What a layout costs by its
sound and beside the melody is added (`kit.band._voicing`), and a little chance, so that
choruses differ. Layouts are in order from low to high, so that voices of chords of one size
never cross.

Source: common practice of keyboard players, as M. Levine, *The Jazz Piano Book* (1989), has
it (from memory): voicings move by the nearest way, and the top is heard as a line. The
weights are our own, set on one half of the tunes of `tests/benchmarks/comping.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from kit.band._voicing import Offer, melody_costs

__all__ = ["MOST_REPEATS", "Asked", "lead"]

MOST_REPEATS = 4
"""So many strokes on one top note are a colour; one more is no line (our choice)."""

Floats = NDArray[np.float64]

# By semitones of the top note's move: steps are free, a sixth is the widest.
_TOP_MOVE = np.array([0.0, 0.0, 0.0, 2.6, 3.2, 4.0, 4.8, 5.6, 7.0, 8.0] + [40.0] * 40)
# By strokes that one top note has been heard already.
_AGAIN = np.array([0.0, 0.6, 1.3, 2.8, 120.0])
# The same within one chord of a dance.
_GRIP = np.array([0.0, 0.0, 0.0, 0.0, 1.0])
_TO_AND_FRO = 0.7
_WITH_MELODY = 0.3
_NEARNESS = 1.2
_CHANCE = 0.5


@dataclass(frozen=True, slots=True)
class Asked:
    """A stroke to be laid out.

    Parameters
    ----------
    offer : Offer
        The chord's layouts.
    melody, together : collection of int
        MIDI numbers of the melody beside it (`melody_costs`).
    melody_moves : int
        Where the melody has gone since the stroke before: -1 down, 1 up, 0 nowhere.
    chance : sequence of float, 0 to 1, or empty
        One for each layout.
    is_grip : bool
        Whether it repeats a dance's chord, which may stay as it is.
    """

    offer: Offer
    melody: Collection[int]
    together: Collection[int]
    melody_moves: int = 0
    chance: Sequence[float] = ()
    is_grip: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class _Ways:
    """From each layout of one offer (rows) to each of the next (columns)."""

    cost: Floats
    stays: NDArray[np.bool_]
    rises: Floats


def lead(strokes: Sequence[Asked]) -> list[tuple[int, ...]]:
    """Choose a layout for each stroke.

    Parameters
    ----------
    strokes : sequence of Asked
        In order.

    Returns
    -------
    list of tuple of int
        MIDI numbers of each, lowest first.
    """
    if not strokes:
        return []
    total = _standing(strokes[0])
    # Of the best way to each layout: strokes on its top note, and the top before that.
    run = np.ones(len(total), np.intp)
    earlier = np.full(len(total), -1, np.intp)
    back: list[NDArray[np.intp]] = []
    for before, now in pairwise(strokes):
        ways = _ways(before.offer, now.offer)
        tops = _tops(now.offer)
        cost = total[:, None] + ways.cost
        again = _GRIP if now.is_grip else _AGAIN
        cost += np.where(ways.stays, again[run][:, None], 0.0)
        cost += _TO_AND_FRO * (tops == earlier[:, None])
        if now.melody_moves:
            cost += _WITH_MELODY * now.melody_moves * ways.rises
        best = cost.argmin(axis=0)
        columns = np.arange(len(tops))
        total = cost[best, columns] + _standing(now)
        stays = ways.stays[best, columns]
        run = np.where(stays, np.minimum(run[best] + 1, MOST_REPEATS), 1)
        earlier = np.where(stays, earlier[best], _tops(before.offer)[best])
        back.append(best)
    places = [int(total.argmin())]
    for best in reversed(back):
        places.append(int(best[places[-1]]))
    places.reverse()
    return [
        stroke.offer.notes[place] for stroke, place in zip(strokes, places, strict=True)
    ]


def _standing(stroke: Asked) -> Floats:
    """Give what each layout costs by itself."""
    cost = np.array(stroke.offer.costs)
    if stroke.melody:
        cost += melody_costs(stroke.offer, stroke.melody, stroke.together)
    if stroke.chance:
        cost += _CHANCE * np.array(stroke.chance)
    return cost


@lru_cache(maxsize=1024)
def _tops(offer: Offer) -> NDArray[np.intp]:
    return np.array([notes[-1] for notes in offer.notes], np.intp)


@lru_cache(maxsize=1024)
def _voices(offer: Offer) -> Floats:
    """Give four voices for each layout; a small one has its lowest note twice or more."""
    return np.array(
        [(*[notes[0]] * (4 - len(notes)), *notes) for notes in offer.notes], np.float64
    )


@lru_cache(maxsize=4096)
def _ways(before: Offer, now: Offer) -> _Ways:
    apart = _tops(now)[None, :] - _tops(before)[:, None]
    moved = np.abs(_voices(now)[None, :, :] - _voices(before)[:, None, :]).mean(axis=2)
    cost = _TOP_MOVE[np.abs(apart)] + _NEARNESS * moved
    return _Ways(cost, apart == 0, np.sign(apart).astype(np.float64))
