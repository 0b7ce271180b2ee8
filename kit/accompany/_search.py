"""Which row of chords suits the whole tune best, and how near does every other come?

The best row is found slot by slot (Viterbi's method); going over the tune a second time
from its end tells for each chord in each slot the best row that has it there. The distance
from the best of all is what that choice would cost. Where both halves of a bar have the
same chord they are one slot from then on, and whoever else wants the bar must suit both.

Source: Viterbi, *IEEE Transactions on Information Theory* 13 (1967), from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from kit.accompany._chords import Candidate, candidates
from kit.accompany._grammar import melody_fit, moves, place_fit, stays_in_bar
from kit.accompany._slots import SlotMusic

__all__ = ["Weighed", "weigh"]

_Row = list[float]


@dataclass(frozen=True, slots=True)
class Weighed:
    """A slot with what each chord is worth there.

    Parameters
    ----------
    music : SlotMusic
        The slot.
    chords : tuple of Candidate
        The chords of its key's mode.
    best : int
        Index of the chord chosen.
    melody, place : tuple of float
        The fit of each chord here.
    cost : tuple of float
        How much worse the best row for the whole tune is that has the chord here: 0 for
        the one chosen.
    """

    music: SlotMusic
    chords: tuple[Candidate, ...]
    best: int
    melody: tuple[float, ...]
    place: tuple[float, ...]
    cost: tuple[float, ...]

    @property
    def chosen(self) -> Candidate:
        """The chord chosen."""
        return self.chords[self.best]


def weigh(slots: Sequence[SlotMusic]) -> tuple[Weighed, ...]:
    """Choose a chord for each slot and weigh all others.

    Parameters
    ----------
    slots : sequence of SlotMusic
        In the order of the page; at least one.
    """
    return _Search(slots).weighed()


class _Search:
    """The rows of numbers that the two passes over the tune share."""

    def __init__(self, slots: Sequence[SlotMusic]) -> None:
        self.slots = slots
        self.chords = [candidates(slot.key.mode) for slot in slots]
        self.melody = [
            [melody_fit(slot, chord) for chord in chords]
            for slot, chords in zip(slots, self.chords, strict=True)
        ]
        self.place = [self._place(index) for index in range(len(slots))]
        self.own = [
            [m + p for m, p in zip(melody, place, strict=True)]
            for melody, place in zip(self.melody, self.place, strict=True)
        ]
        self.steps = [[], *(self._steps(index) for index in range(1, len(slots)))]
        self.forward, self.path = self._forward()
        self.backward = self._backward()

    def _place(self, index: int) -> _Row:
        following = self.slots[index + 1 : index + 2]
        before_end = any(slot.closes_strain for slot in following)
        return [
            place_fit(self.slots[index], chord, before_end=before_end)
            for chord in self.chords[index]
        ]

    def _steps(self, index: int) -> list[_Row]:
        """Weigh the steps into a slot: a row for each chord before it."""
        slot = self.slots[index]
        if slot.key != self.slots[index - 1].key:
            # A new key begins anew: no step of the old one leads into it.
            fresh = [math.log(chord.share) for chord in self.chords[index]]
            return [fresh for _ in self.chords[index - 1]]
        steps = [list(row) for row in moves(slot.key.mode)]
        for place, row in enumerate(steps):
            row[place] += stays_in_bar(slot)
        return steps

    def _forward(self) -> tuple[list[_Row], list[int]]:
        """Give the worth of the best row up to each chord, and the best row of all."""
        first = zip(self.chords[0], self.own[0], strict=True)
        rows = [[math.log(chord.share) + own for chord, own in first]]
        came_from: list[list[int]] = []
        for index in range(1, len(self.slots)):
            row, origins = _Row(), list[int]()
            for own, column in zip(
                self.own[index], zip(*self.steps[index], strict=True), strict=True
            ):
                reached = [a + b for a, b in zip(rows[-1], column, strict=True)]
                best = max(reached)
                # Of equals the more usual chord, which stands first.
                origins.append(reached.index(best))
                row.append(best + own)
            rows.append(row)
            came_from.append(origins)
        path = [rows[-1].index(max(rows[-1]))]
        for origins in reversed(came_from):
            path.append(origins[path[-1]])
        return rows, path[::-1]

    def _backward(self) -> list[_Row]:
        """Give the worth of the best row behind each chord."""
        rows = [[0.0] * len(self.chords[-1])]
        for index in range(len(self.slots) - 1, 0, -1):
            ahead = [a + b for a, b in zip(self.own[index], rows[-1], strict=True)]
            rows.append(
                [
                    max(a + b for a, b in zip(steps, ahead, strict=True))
                    for steps in self.steps[index]
                ]
            )
        return rows[::-1]

    def weighed(self) -> tuple[Weighed, ...]:
        """Give the slots, halves of a bar with one chord joined."""
        return tuple(self._weighed())

    def _weighed(self) -> Iterator[Weighed]:
        index = 0
        while index < len(self.slots):
            following = index + 1
            joined = (
                following < len(self.slots)
                and self.slots[following].in_mid_bar
                and self.path[following] == self.path[index]
            )
            yield self._bar(index) if joined else self._slot(index)
            index += 2 if joined else 1

    def _slot(self, index: int) -> Weighed:
        through = zip(self.forward[index], self.backward[index], strict=True)
        return Weighed(
            self.slots[index],
            self.chords[index],
            self.path[index],
            tuple(self.melody[index]),
            tuple(self.place[index]),
            self._costs([a + b for a, b in through]),
        )

    def _bar(self, index: int) -> Weighed:
        """Join the two halves of a bar."""
        first, second = self.slots[index], self.slots[index + 1]
        count = range(len(self.chords[index]))
        through = [
            self.forward[index][k]
            + self.steps[index + 1][k][k]
            + self.own[index + 1][k]
            + self.backward[index + 1][k]
            for k in count
        ]
        music = replace(
            second,
            onset=first.onset,
            duration=first.duration + second.duration,
            notes=first.notes + second.notes,
            in_mid_bar=False,
            opens=first.opens,
        )
        return Weighed(
            music,
            self.chords[index],
            self.path[index],
            tuple(self.melody[index][k] + self.melody[index + 1][k] for k in count),
            tuple(self.place[index][k] + self.place[index + 1][k] for k in count),
            self._costs(through),
        )

    def _costs(self, through: _Row) -> tuple[float, ...]:
        best = max(self.forward[-1])
        # Two ways of adding up the same numbers may differ in the last digit.
        return tuple(max(0.0, round(best - worth, 6)) for worth in through)
