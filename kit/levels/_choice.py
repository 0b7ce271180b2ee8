"""Which of many edits go into a draft, one after another?

`Choice` keeps the music as it is with the edits chosen so far. What it asks before it takes
another one (does it apply, rub, lie outside a range, leave room to breathe, would a teacher
strike it out?) it asks of the bars around: a choice costs the same in a long tune as
in a short one. The ideas wait in queues, so that the best one need not be looked for among
all of them.

Conventions
-----------
* The ideas of one kind lose the same by each use of it, so that they stay in one order; the
  best of all is among the first of each queue.
* An idea that has no room waits until edits may stand closer together; one that was refused
  is never asked again.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kit.levels._faults import Reading, new_faults
from kit.levels._limits import Limits
from kit.levels._music import Music
from kit.levels._tally import Gauge
from kit.levels._window import cut_out, tie_free, ties_on
from kit.levels.clash import clashes_in
from kit.levels.edit import Edit
from kit.levels.edits import Editing, family_of
from kit.levels.idioms import Idiom
from kit.levels.suggest import around
from kit.tune.model import Bar, Tune

__all__ = ["Choice", "Group"]

_USED_AGAIN = 0.45
_SAME_FAMILY = 0.12
"""What an idea loses by each use of its kind of edit, and of its family."""
_MOST_RUNNING = 3
"""Bars in a row that may have the same kind of edit; with more it is a mannerism."""
_UNNOTICED = frozenset(
    {"grace", "passing note", "neighbour note", "accent", "tenuto", "staccato", "pitch"}
)
"""Small things that may come in every bar."""
_BESIDE = 1
"""Edits in the bars beside a new one are tried together with it."""


@dataclass(frozen=True, slots=True)
class Group:
    """An idea with its copies in like bars."""

    edits: tuple[Edit, ...]
    rank: float
    family: str

    @property
    def do(self) -> str:
        """The kind of edit."""
        return self.edits[0].do


@dataclass(frozen=True, slots=True)
class _Waiting:
    """A group in its queue; `place` is its place among all of them."""

    group: Group
    place: int

    @property
    def order(self) -> tuple[float, int, Fraction, int]:
        """What decides among groups of one kind, the best first."""
        first = self.group.edits[0]
        return -self.group.rank, first.bar, first.beat, self.place


class Choice:
    """The edits chosen so far, and the music they make.

    Parameters
    ----------
    tune : Tune
        What is edited.
    groups : iterable of Group
        What there is to choose from.
    limits : Limits
        What the players can do.
    idiom : Idiom
        What a teacher expects.
    a_bar, most_a_bar : int
        How many edits a bar may have, at first and when loosened.
    """

    def __init__(
        self,
        tune: Tune,
        groups: Iterable[Group],
        limits: Limits,
        idiom: Idiom,
        *,
        a_bar: int,
        most_a_bar: int,
    ) -> None:
        self.tune = tune
        self.edits: list[Edit] = []
        self.groups: list[Group] = []
        self.loosened = 0
        self._a_bar, self._most_a_bar = a_bar, most_a_bar
        self._limits, self._idiom = limits, idiom
        self._apart = Fraction(tune.meter.beats, 2)
        self._editing = Editing(tune)
        self._ground = self._editing.ground
        music = Music.of(tune)
        self.gauge = Gauge(music)
        self._heights = frozenset(self.gauge.heights)
        self._breath = limits.longest_breath(music.sounds)
        self._rubbing = clashes_in(music, range(len(tune.bars)))
        self._used: Counter[str] = Counter()
        self._edits_in: dict[int, list[Edit]] = defaultdict(list)
        self._queues: dict[tuple[str, int], list[_Waiting]] = {}
        self._without_room: list[_Waiting] = []
        self._line_up(_Waiting(group, place) for place, group in enumerate(groups))

    def fill(self, limit: int, *, most_over: int = 0, family: str = "") -> bool:
        """Add the best groups that fit until there are `limit` edits; say if any came.

        Parameters
        ----------
        limit : int
            Of edits in all.
        most_over : int
            By how many the last group may go over the limit.
        family : str
            Take groups of this family only.
        """
        came = False
        while len(self.edits) < limit:
            best = self._best(limit + most_over - len(self.edits), family)
            if best is None:
                return came
            came |= self._add(best)
        return came

    def loosen(self) -> None:
        """Allow one more edit in a bar, and edits closer together, down to a beat."""
        self.loosened += 1
        self._a_bar = min(self._a_bar + 1, self._most_a_bar)
        self._apart = max(Fraction(1), self._apart / 2)
        waiting, self._without_room = self._without_room, []
        self._line_up(waiting)

    def _line_up(self, waiting: Iterable[_Waiting]) -> None:
        """Put groups into the queues of their kind and size, the best one last."""
        for item in waiting:
            key = item.group.do, len(item.group.edits)
            self._queues.setdefault(key, []).append(item)
        for queue in self._queues.values():
            # The best comes last, because a list is cheaply shortened at its end only.
            queue.sort(key=lambda item: item.order, reverse=True)

    def _best(self, most: int, family: str) -> Group | None:
        """Take the best group of at most so many edits off its queue."""
        best: list[_Waiting] | None = None
        wanted: tuple[float, int, Fraction, str, int] | None = None
        for (do, size), queue in self._queues.items():
            if size > most or (family and family_of(do) != family):
                continue
            while queue and not self._has_room(queue[-1].group):
                self._without_room.append(queue.pop())
            if queue and (wanted is None or self._wanted(queue[-1]) > wanted):
                best, wanted = queue, self._wanted(queue[-1])
        return best.pop().group if best else None

    def _wanted(self, item: _Waiting) -> tuple[float, int, Fraction, str, int]:
        group = item.group
        score = group.rank - _USED_AGAIN * self._used[group.do]
        score -= _SAME_FAMILY * self._used[group.family]
        first = group.edits[0]
        return score, -first.bar, -first.beat, group.do, -item.place

    def _has_room(self, group: Group) -> bool:
        """Whether no bar gets too many edits, or two that are close together."""
        if group.do not in _UNNOTICED and self._runs_on(group):
            return False
        for edit in group.edits:
            here = self._edits_in.get(edit.bar, [])
            melodic = [o for o in here if family_of(o.do) != "harmony"]
            if edit in here or len(here) >= self._a_bar:
                return False
            if group.family == "harmony":
                if len(melodic) < len(here):
                    return False
            elif any(abs(other.beat - edit.beat) < self._apart for other in melodic):
                return False
        return True

    def _runs_on(self, group: Group) -> bool:
        """Whether a kind of edit would come in more bars running than one bears."""
        bars = {edit.bar for edit in (*self.edits, *group.edits) if edit.do == group.do}
        return any(
            all(start + step in bars for step in range(_MOST_RUNNING + 1)) for start in bars
        )

    def _add(self, group: Group) -> bool:
        """Take a group in, unless the music or the players forbid it."""
        if not all(self._in_order(edit, group.edits) for edit in group.edits):
            return False
        steps = [self._editing]
        for edit in group.edits:
            after = steps[-1].try_out(edit)
            if after is None:
                return False
            steps.append(after)
        if not self._allowed(steps, adds=group.family == "pitches"):
            return False
        for before, after in pairwise(steps):
            self._measure(before, after)
        self._editing = steps[-1]
        self.edits += group.edits
        for edit in group.edits:
            self._edits_in[edit.bar].append(edit)
        self.groups.append(group)
        self._used.update((group.do, group.family))
        return True

    def _in_order(self, edit: Edit, new: Sequence[Edit]) -> bool:
        """Whether an edit and its neighbours apply in the order of a level file."""
        index = self._ground.indices_of(edit.bar)[0]
        bars = self.tune.bars[max(0, index - _BESIDE) : index + _BESIDE + 1]
        near = {bar.number for bar in bars}
        edits = [other for number in near for other in self._edits_in.get(number, ())]
        edits += [other for other in new if other.bar in near]
        return _all_apply(around(self.tune, index), sorted(edits, key=_in_file))

    def _allowed(self, steps: Sequence[Editing], *, adds: bool) -> bool:
        """Whether what the steps have changed rubs nowhere and can be played."""
        tune = steps[-1].tune
        breaths = None if self._breath is None else self.gauge.breaths.copy()
        for step in steps[1:]:
            heard = step.heard(tune)
            first, last = tie_free(tune.bars, step.first, max(step.first, heard.stop - 1))
            music = Music.of(cut_out(tune, first, last))
            start = self._ground.starts[first]
            inside = range(heard.start - first, heard.stop - first)
            rubbing = {(moment + start, midi) for moment, midi in clashes_in(music, inside)}
            if rubbing - self._rubbing:
                return False
            heights = {sound.pitch.midi for sound in music.sounds}
            if not self._limits.allow(heights - self._heights):
                return False
            if self._would_be_struck(tune, first, last, adds=adds):
                return False
            if breaths is None or self._breath is None:
                continue
            if breaths.replace(music, start) > self._breath:
                return False
        return True

    def _would_be_struck(self, tune: Tune, first: int, last: int, *, adds: bool) -> bool:
        """Whether bars of a later tune, read with their neighbours, have new faults."""
        first, last = tie_free(
            tune.bars, max(0, first - 1), min(last + 1, len(tune.bars) - 1)
        )
        was, now = (
            Reading(Music.of(cut_out(bars, first, last)), self._limits, self._idiom)
            for bars in (self._editing.tune, tune)
        )
        return new_faults(was, now, said_twice=adds)

    def _measure(self, before: Editing, after: Editing) -> None:
        """Put what an edit has changed into the gauge."""
        first, last = _with_neighbours(after)
        self.gauge = self.gauge.replaced(
            Music.of(cut_out(before.tune, first, last)),
            Music.of(cut_out(after.tune, first, last)),
            self._ground.starts[first],
        )

    def in_order(self, without: Collection[Group] = ()) -> tuple[Edit, ...]:
        """Give the edits in the order of a level file.

        A group that only applied after later ones is done without as a whole, so that like
        bars stay alike.

        Parameters
        ----------
        without : collection of Group
            Groups to leave out.
        """
        groups = [group for group in self.groups if group not in without]
        edits = sorted((edit for group in groups for edit in group.edits), key=_in_file)
        steps = [Editing(self.tune)]
        while len(steps) <= len(edits):
            refused = edits[len(steps) - 1]
            after = steps[-1].try_out(refused)
            if after is not None:
                steps.append(after)
                continue
            gone = {e for g in groups if refused in g.edits for e in g.edits}
            groups = [group for group in groups if refused not in group.edits]
            first = next(place for place, edit in enumerate(edits) if edit in gone)
            edits = [edit for edit in edits if edit not in gone]
            del steps[first + 1 :]
        return tuple(edits)


def _in_file(edit: Edit) -> tuple[int, Fraction, str]:
    return edit.bar, edit.beat, edit.do


def _all_apply(tune: Tune, edits: Iterable[Edit]) -> bool:
    music: Editing | None = Editing(tune)
    for edit in edits:
        music = music.try_out(edit) if music else None
    return music is not None


def _with_neighbours(step: Editing) -> tuple[int, int]:
    """Widen what an edit has changed until an unchanged sound stands on either side."""
    bars = step.tune.bars
    first, last = step.first - 1, step.last + 1
    while first > 0 and not _has_attack(bars, first):
        first -= 1
    while last < len(bars) - 1 and not _has_attack(bars, last):
        last += 1
    return tie_free(bars, max(0, first), min(last, len(bars) - 1))


def _has_attack(bars: Sequence[Bar], index: int) -> bool:
    """Whether a sound begins in a bar, ties into it left aside."""
    notes = bars[index].notes
    tied = index > 0 and ties_on(bars[index - 1])
    return any(note.pitch is not None for note in notes[1 if tied else 0 :])
