"""How alike are two bars, or two stretches of bars?

Conventions
-----------
* A likeness is a number from 0 (nothing in common) to 1 (the same).
* A bar's content is its melody (onset, MIDI number) and the changes in force; both count
  from the start of a full bar, so that a pick-up is right-aligned.
* A *shift* in semitones is taken off the second bar before comparing, so that a section
  that returns in another key can be recognised.
* The last quarter of a stretch weighs half: endings are where repeated sections vary
  (common practice). The weights and bounds are our own, set on generated song forms
  (tests/reference/test_form_finding.py).
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.tune.model import Bar, ChordEvent, Tune

__all__ = [
    "BarContent",
    "Likenesses",
    "bar_contents",
    "bar_likeness",
    "best_shift",
    "sections_to_compare",
]

_MELODY_WEIGHT = 0.7
_SAME_ONSET_OTHER_PITCH = 0.3
_SAME_PITCHES_OTHER_RHYTHM = 0.85
_ROUNDING = 1e-9
_COMPARED = 32
"""Of many earlier sections so many from the first on, and as many before this one."""


@dataclass(frozen=True, slots=True)
class BarContent:
    """What sounds in one bar: ``(onset, midi)`` pairs and ``(onset, root, kind)`` triples.

    `root` is a pitch class, -1 where there is no chord.
    """

    melody: tuple[tuple[Fraction, int], ...]
    changes: tuple[tuple[Fraction, int, str], ...]
    length: Fraction


def bar_contents(tune: Tune) -> tuple[BarContent, ...]:
    """Give the content of every bar, by index."""
    contents = []
    held: ChordEvent | None = None
    for bar in tune.bars:
        contents.append(_content(bar, held))
        if bar.chords:
            held = bar.chords[-1]
    return tuple(contents)


def _content(bar: Bar, held: ChordEvent | None) -> BarContent:
    lead_in = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    melody = tuple(
        (note.onset + lead_in, note.pitch.midi) for note in bar.notes if note.pitch
    )
    events = list(bar.chords)
    if held is not None and (not events or events[0].onset > 0):
        events.insert(0, ChordEvent(Fraction(0), held.symbol))
    changes: list[tuple[Fraction, int, str]] = []
    for event in events:
        root = event.symbol.root
        change = (-1 if root is None else root.pitch_class, event.symbol.kind)
        # A chord that is written again is no change.
        if not changes or changes[-1][1:] != change:
            changes.append((event.onset + lead_in, *change))
    return BarContent(melody, tuple(changes), bar.meter.bar_length)


def bar_likeness(first: BarContent, second: BarContent, *, shift: int = 0) -> float:
    """Compare two bars, 0 to 1; `shift` semitones are taken off the second."""
    if first == second and not shift and first.melody:
        return 1.0
    melody = _melody_likeness(first, second, shift)
    if not first.changes and not second.changes:
        return melody
    changes = _change_likeness(first, second, shift)
    if not first.melody and not second.melody:
        return changes
    return _MELODY_WEIGHT * melody + (1 - _MELODY_WEIGHT) * changes


def _melody_likeness(first: BarContent, second: BarContent, shift: int) -> float:
    if not first.melody and not second.melody:
        return 1.0
    longer = max(len(first.melody), len(second.melody))
    there = {onset: midi - shift for onset, midi in second.melody}
    in_place = sum(
        1.0 if there[onset] == midi else _SAME_ONSET_OTHER_PITCH
        for onset, midi in first.melody
        if onset in there
    )
    # The same notes in another rhythm: the longest row of pitches both have in order.
    in_order = _common_run(
        [midi for _, midi in first.melody], [midi - shift for _, midi in second.melody]
    )
    return max(in_place, _SAME_PITCHES_OTHER_RHYTHM * in_order) / longer


def _common_run(first: Sequence[int], second: Sequence[int]) -> int:
    """Length of the longest common subsequence."""
    row = [0] * (len(second) + 1)
    for item in first:
        before = 0
        for place, other in enumerate(second, start=1):
            keep = row[place]
            row[place] = before + 1 if item == other else max(row[place], row[place - 1])
            before = keep
    return row[-1]


def _change_likeness(first: BarContent, second: BarContent, shift: int) -> float:
    """Share of the bar in which the same chord holds (same root alone counts half)."""
    cuts = sorted(
        {change[0] for change in (*first.changes, *second.changes)}
        | {Fraction(0), first.length}
    )
    same = Fraction(0)
    for start, end in itertools.pairwise(cuts):
        one, other = _in_force(first, start), _in_force(second, start)
        if one is None or other is None:
            same += (end - start) if one is other else 0
            continue
        # No chord (-1) is no chord in any key.
        moved = other[0] if other[0] < 0 else (other[0] - shift) % 12
        if one[0] == moved:
            same += (end - start) if one[1] == other[1] else (end - start) / 2
    return float(same / first.length) if first.length else 1.0


def _in_force(content: BarContent, onset: Fraction) -> tuple[int, str] | None:
    now = None
    for start, root, kind in content.changes:
        if start <= onset:
            now = (root, kind)
    return now


class Likenesses:
    """The bars of one tune, compared with one another; each pair of contents once.

    Bars are indices, stretches a first index and the one behind the last.
    """

    def __init__(self, contents: Sequence[BarContent]) -> None:
        numbers: dict[BarContent, int] = {}
        self.kinds = tuple(numbers.setdefault(item, len(numbers)) for item in contents)
        """A number for each bar, the same where the same sounds."""
        self._contents = tuple(numbers)
        self._known: dict[tuple[int, int, int], float] = {}

    def bars(self, one: int, other: int, *, shift: int = 0) -> float:
        """Compare two bars, as `bar_likeness` does."""
        pair = self.kinds[one], self.kinds[other], shift
        known = self._known.get(pair)
        if known is None:
            first, second = self._contents[pair[0]], self._contents[pair[1]]
            known = self._known[pair] = bar_likeness(first, second, shift=shift)
        return known

    def stretches(
        self,
        one: tuple[int, int],
        other: tuple[int, int],
        *,
        shift: int = 0,
        at_least: float = 0.0,
    ) -> float:
        """Compare two stretches bar by bar over the shorter one's length, 0 to 1.

        Parameters
        ----------
        one, other : (int, int)
            The stretches.
        shift : int
            Semitones that are taken off the second one.
        at_least : float
            Nothing less is of use: the answer is 0 as soon as it is sure to be below.
        """
        length = min(one[1] - one[0], other[1] - other[0])
        if length <= 0:
            return 0.0
        ending = length - max(1, length // 4) if length > 1 else length
        weights = ending + 0.5 * (length - ending)
        # A hair less, so that rounding does not turn down what is just alike enough.
        enough = at_least * weights - _ROUNDING
        total, left = 0.0, weights
        for place in range(length):
            weight = 1.0 if place < ending else 0.5
            total += weight * self.bars(one[0] + place, other[0] + place, shift=shift)
            left -= weight
            # Not even if all that is left were the same.
            if total + left < enough:
                return 0.0
        return total / weights


def sections_to_compare(count: int) -> tuple[int, ...]:
    """Give the earlier sections that one is compared with: all, or of many the outer ones.

    A medley of an evening may have hundreds; what comes back is mostly the strain just
    played, or the one it all began with.
    """
    if count <= 2 * _COMPARED:
        return tuple(range(count))
    return (*range(_COMPARED), *range(count - _COMPARED, count))


def best_shift(first: Sequence[BarContent], second: Sequence[BarContent]) -> int:
    """Give the shift in semitones most melody notes of the second stretch agree on."""
    votes: Counter[int] = Counter()
    for one, other in zip(first, second, strict=False):
        there = dict(other.melody)
        votes.update(there[onset] - midi for onset, midi in one.melody if onset in there)
    if not votes:
        return 0
    most = max(votes.values())
    # Of equals the smallest move.
    return min((shift for shift, count in votes.items() if count == most), key=abs)
