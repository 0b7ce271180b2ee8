"""How is a first draft of a harder level put together?

A draft is a list of edits that all apply in order, as many and as varied as suit the level.
A teacher is expected to keep about half.

Conventions
-----------
* Bars that hold the same music in like sections get the same edits: a student learns each
  section once.
* The best ideas go first; each use of a kind of edit makes the next use of it less wanted,
  so that a draft is varied. An advanced draft starts with new harmony.
* A draft comes out harder than the tune, and an advanced one harder than the intermediate
  one (`kit.levels.difficulty` at one tempo): edits are added until it does, or until there
  is nothing left to add.

Source: the sizes and margins are our own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.errors import LevelError
from kit.form.differences import bar_key
from kit.form.sections import Form
from kit.levels.clash import clashes
from kit.levels.difficulty import difficulty
from kit.levels.edit import Edit
from kit.levels.edits import apply_edit, apply_edits, family_of
from kit.levels.limits import Limits
from kit.levels.player import Player
from kit.levels.suggest import (
    Candidate,
    LevelName,
    Taste,
    Wishes,
    around,
    candidates,
    effect_of,
    tempo_of,
)
from kit.tune.model import Tune
from kit.tune.unfold import playing_order

__all__ = ["draft_edits"]

_SHARE = {"intermediate": Fraction(3, 8), "advanced": Fraction(2, 3)}
"""Edits in a draft for each bar that is played."""
_MOST = {"intermediate": Fraction(3, 2), "advanced": Fraction(3)}
"""As many at most where the level would not come out harder otherwise."""
_MOST_COPIES = 4
"""A last group may go over the limit by its copies."""
_A_BAR = {"intermediate": 1, "advanced": 3}
_LOOSENED = 2
"""How often the rules for how close edits may stand are relaxed before a draft gives up."""
_MARGIN = {"intermediate": 0.1, "advanced": 0.2}
_USED_AGAIN = 0.45
_SAME_FAMILY = 0.12
_HARMONY_SHARE = Fraction(1, 4)
_HARDER = {"intermediate": 0.0, "advanced": 1.5}
"""What an idea gains for each point that it makes its bar harder."""


@dataclass(frozen=True, slots=True)
class _Group:
    """An idea with its copies in like bars."""

    edits: tuple[Edit, ...]
    rank: float
    family: str

    @property
    def do(self) -> str:
        return self.edits[0].do


def draft_edits(
    tune: Tune,
    form: Form,
    *,
    level: LevelName,
    seed: int = 0,
    count: int | None = None,
    instruments: Sequence[Player] = (),
    taste: Taste = "balanced",
) -> tuple[Edit, ...]:
    """Choose edits for a first draft of a level; all of them apply in order.

    Parameters
    ----------
    tune, form, level, instruments, taste
        As for `kit.levels.suggestions`.
    seed : int
        Another seed gives another draft.
    count : int >= 0, optional
        At most so many edits; as many as suit the level unless said.

    Raises
    ------
    ValueError
        For another level or taste, or a count below zero.
    """
    wishes = Wishes(level, seed, instruments, taste)
    if count is not None and count < 0:
        raise ValueError("a count cannot be below zero")
    return _draft(tune, form, wishes, count)


def _draft(
    tune: Tune, form: Form, wishes: Wishes, count: int | None = None
) -> tuple[Edit, ...]:
    level, tempo = wishes.level, tempo_of(tune)
    found = list(candidates(tune, form, wishes))
    gains = [_HARDER[level] and _gain(item, tempo) for item in found]
    weighed = [
        replace(item, rank=item.rank + _HARDER[level] * gain)
        for item, gain in zip(found, gains, strict=True)
    ]
    groups = list(_groups(tune, form, weighed))
    bars = sum(any(note.pitch for note in bar.notes) for bar in tune.bars)
    limit = round(bars * _SHARE[level]) if count is None else count
    choice = _Choice(tune, wishes.limits(tune), _A_BAR[level])
    if level == "advanced":
        harmony = [group for group in groups if group.family == "harmony"]
        choice.fill(harmony, round(limit * _HARMONY_SHARE))
    choice.fill(groups, limit)
    if count is None:
        goal = _MARGIN[level] + _below(tune, form, wishes)
        while len(choice.edits) < bars * _MOST[level]:
            if difficulty(choice.music, tempo).overall >= goal:
                break
            if choice.fill(groups, len(choice.edits) + 1, most_over=_MOST_COPIES):
                continue
            if choice.loosened == _LOOSENED:
                break
            choice.loosen()
    return choice.in_order()


def _below(tune: Tune, form: Form, wishes: Wishes) -> float:
    """Give the difficulty that a draft has to beat."""
    tempo = tempo_of(tune)
    if wishes.level == "intermediate":
        return difficulty(tune, tempo).overall
    lower = _draft(tune, form, replace(wishes, level="intermediate"))
    return difficulty(apply_edits(tune, lower), tempo).overall


class _Choice:
    """The edits chosen so far, and the music they make."""

    def __init__(self, tune: Tune, limits: Limits, a_bar: int) -> None:
        self.tune = tune
        self.music = tune
        self.edits: tuple[Edit, ...] = ()
        self.groups: list[_Group] = []
        self.loosened = 0
        self._limits = limits
        self.a_bar = a_bar
        self._apart = Fraction(tune.meter.beats, 2)
        self._rubbing = clashes(tune)
        self._used: Counter[str] = Counter()
        self._refused: set[tuple[Edit, ...]] = set()

    def fill(self, groups: Sequence[_Group], limit: int, *, most_over: int = 0) -> bool:
        """Add the best groups that fit until there are `limit` edits; say if any came."""
        came = False
        while len(self.edits) < limit:
            fitting = [
                group
                for group in groups
                if len(self.edits) + len(group.edits) <= limit + most_over
                and group.edits not in self._refused
                and self._has_room(group)
            ]
            if not fitting:
                return came
            best = max(fitting, key=self._wanted)
            if not self._add(best):
                self._refused.add(best.edits)
                continue
            came = True
        return came

    def loosen(self) -> None:
        """Allow one more edit in a bar, and edits closer together, down to a beat."""
        self.loosened += 1
        self.a_bar += 1
        self._apart = max(Fraction(1), self._apart / 2)

    def _wanted(self, group: _Group) -> tuple[float, int, Fraction, str]:
        score = group.rank - _USED_AGAIN * self._used[group.do]
        score -= _SAME_FAMILY * self._used[group.family]
        first = group.edits[0]
        return score, -first.bar, -first.beat, group.do

    def _has_room(self, group: _Group) -> bool:
        """Whether no bar gets too many edits, or two that are close together."""
        for edit in group.edits:
            here = [other for other in self.edits if other.bar == edit.bar]
            melodic = [o for o in here if family_of(o.do) != "harmony"]
            if edit in here or len(here) >= self.a_bar:
                return False
            if group.family == "harmony":
                if len(melodic) < len(here):
                    return False
            elif any(abs(other.beat - edit.beat) < self._apart for other in melodic):
                return False
        return True

    def _add(self, group: _Group) -> bool:
        edits = tuple(sorted((*self.edits, *group.edits), key=_in_file))
        if not all(self._in_order(edit, edits) for edit in group.edits):
            return False
        music = _applied(self.music, group.edits)
        if music is None or clashes(music) - self._rubbing:
            return False
        if self._limits.problem(self.tune, music):
            return False
        self.edits, self.music = edits, music
        self.groups.append(group)
        self._used.update((group.do, group.family))
        return True

    def _in_order(self, edit: Edit, edits: Sequence[Edit]) -> bool:
        """Whether an edit and its neighbours apply in the order of a level file."""
        index = self.tune.index_of(edit.bar)
        near = {bar.number for bar in self.tune.bars[max(0, index - 1) : index + 2]}
        music = around(self.tune, index)
        return _applied(music, [other for other in edits if other.bar in near]) is not None

    def in_order(self) -> tuple[Edit, ...]:
        """Give the edits in the order of a level file.

        A group that only applied after later ones is done without as a whole, so that like
        bars stay alike.
        """
        groups = list(self.groups)
        while groups:
            edits = sorted((edit for group in groups for edit in group.edits), key=_in_file)
            refused = _first_refused(self.tune, edits)
            if refused is None:
                return tuple(edits)
            groups = [group for group in groups if refused not in group.edits]
        return ()


def _in_file(edit: Edit) -> tuple[int, Fraction, str]:
    return edit.bar, edit.beat, edit.do


def _first_refused(tune: Tune, edits: Sequence[Edit]) -> Edit | None:
    for edit in edits:
        after = _applied(tune, [edit])
        if after is None:
            return edit
        tune = after
    return None


def _applied(tune: Tune, edits: Sequence[Edit]) -> Tune | None:
    """Apply edits in order, None if the music refuses one of them."""
    for edit in edits:
        try:
            tune = apply_edit(tune, edit)
        except LevelError:
            return None
    return tune


def _gain(item: Candidate, tempo_qpm: float) -> float:
    before, after = effect_of(item, tempo_qpm)
    return after.overall - before.overall


def _groups(tune: Tune, form: Form, found: Sequence[Candidate]) -> Iterator[_Group]:
    """Put candidates in like bars together, if each of those bars allows them."""
    copies = _copies(tune, form)
    ranks = {item.idea.edit: item for item in found}
    seen: set[tuple[Edit, ...]] = set()
    for edit, item in ranks.items():
        numbers = copies.get(edit.bar, (edit.bar,))
        edits = tuple(replace(edit, bar=number) for number in numbers)
        if edits not in seen and all(copy in ranks for copy in edits):
            yield _Group(edits, item.rank, family_of(edit.do))
        seen.add(edits)


def _copies(tune: Tune, form: Form) -> dict[int, tuple[int, ...]]:
    """Group the printed numbers of bars that hold the same music in like sections."""
    order = playing_order(tune)
    groups: dict[tuple[object, ...], list[int]] = {}
    for section in form.sections:
        for offset, place in enumerate(range(section.first, section.last + 1)):
            index = order[place]
            key = (section.label, offset, *bar_key(tune, index))
            numbers = groups.setdefault(key, [])
            if tune.bars[index].number not in numbers:
                numbers.append(tune.bars[index].number)
    return {n: tuple(numbers) for numbers in groups.values() for n in numbers}
