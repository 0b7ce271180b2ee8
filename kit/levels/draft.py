"""How is a first draft of a harder level put together?

A draft is a list of edits that all apply in order, as many and as varied as suit the level.
A teacher is expected to keep about half.

Conventions
-----------
* Bars that hold the same music in like sections get the same edits: a student learns each
  section once.
* The best ideas go first; each use of a kind of edit makes the next use of it less wanted,
  so that a draft is varied. An advanced draft starts with new harmony.
* A last pass reads the finished music, and gives up what does not stand (`_last_pass`).
* A draft comes out harder than the tune, and an advanced one harder than the intermediate
  one (`kit.levels.difficulty`), both at one tempo and each at its own: edits are added
  until it does, or until there is nothing left to add. At slow tempi a tune is so easy that
  a few notes more do not count yet; there it takes more of them.
* If what the last pass leaves is no harder, another attempt puts what is hard before what
  is nice: notes in passing, for one, make leaps smaller, so that they leave a tune of leaps
  as easy as it was.

Source: the sizes and margins are our own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.form.differences import bar_keys
from kit.form.sections import Form
from kit.levels._choice import Choice, Group
from kit.levels._last_pass import without_faults
from kit.levels._limits import Limits
from kit.levels._player import Player
from kit.levels._tally import Gauge
from kit.levels.difficulty import difficulty, overall_difficulty
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits, family_of
from kit.levels.suggest import Candidate, candidates, gain_of
from kit.levels.wishes import LevelName, Taste, Terms, Wishes
from kit.tune.model import Tune
from kit.tune.unfold import playing_order

__all__ = ["draft_edits"]

_SHARE = {"intermediate": Fraction(3, 8), "advanced": Fraction(2, 3)}
"""Edits in a draft for each bar that is played."""
_MOST = {"intermediate": Fraction(3, 2), "advanced": Fraction(3)}
"""As many at most where the level would not come out harder otherwise."""
_MOST_COPIES = 4
"""A last group may go over the limit by its copies."""
_A_BAR = {"intermediate": 1, "advanced": 2}
_MOST_A_BAR = {"intermediate": 2, "advanced": 3}
_LOOSENED = 2
"""How often the rules for how close edits may stand are relaxed before a draft gives up."""
_MARGIN = {"intermediate": 0.1, "advanced": 0.2}
_PRINTED = 0.1
"""By how much a draft is harder, at one tempo and with each level at its own."""
_HARMONY_SHARE = Fraction(1, 4)
_HARDER = {"intermediate": (0.0, 1.5, 6.0), "advanced": (1.5, 6.0)}
"""What an idea gains for each point that it makes its bar harder, attempt by attempt."""


def draft_edits(
    tune: Tune,
    form: Form,
    *,
    level: LevelName,
    seed: int = 0,
    count: int | None = None,
    instruments: Sequence[Player] = (),
    taste: Taste = "balanced",
    terms: Terms | None = None,
) -> tuple[Edit, ...]:
    """Choose edits for a first draft of a level; all of them apply in order.

    Parameters
    ----------
    tune, form, level, instruments, taste, terms
        As for `kit.levels.suggest.suggestions`.
    seed : int
        Another seed gives another draft.
    count : int >= 0, optional
        At most so many edits; as many as suit the level unless said.

    Raises
    ------
    ValueError
        For another level or taste, or a count below zero.
    """
    wishes = Wishes(level, terms or Terms.of(tune), seed, instruments, taste)
    if count is not None and count < 0:
        raise ValueError("a count cannot be below zero")
    return _draft(tune, form, wishes, count)


@dataclass(frozen=True, slots=True)
class _Goal:
    """What a draft has to beat at a tempo, and by how much."""

    tempo_qpm: float
    below: float
    margin: float

    def is_met(self, gauge: Gauge) -> bool:
        # Figures have one decimal: a sum of two of them is a hair more or less.
        goal = round(self.below + self.margin, 1)
        return overall_difficulty(gauge, self.tempo_qpm) >= goal

    def rise(self, tune: Tune) -> float:
        return round(difficulty(tune, self.tempo_qpm).overall - self.below, 1)


def _draft(
    tune: Tune, form: Form, wishes: Wishes, count: int | None = None
) -> tuple[Edit, ...]:
    """Make attempts until one comes out harder than the level below; else the hardest."""
    limits = wishes.limits(tune)
    found = list(candidates(tune, form, wishes, limits))
    goals = _goals(tune, form, wishes) if count is None else ()
    attempts: list[tuple[float, tuple[Edit, ...]]] = []
    gains = [0.0] * len(found)
    measured = False
    for harder in _HARDER[wishes.level]:
        # Dear: once for all attempts, and not where it would count for nothing (0.0).
        if harder and not measured:
            gains = [gain_of(item, wishes.terms.tempo_qpm) for item in found]
            measured = True
        weighed = [
            replace(item, rank=item.rank + harder * gain)
            for item, gain in zip(found, gains, strict=True)
        ]
        groups = _groups(tune, form, weighed)
        edits = _attempt(tune, groups, wishes, limits, goals=goals, count=count)
        if count is not None:
            return edits
        done = apply_edits(tune, edits)
        attempts.append((min(goal.rise(done) for goal in goals), edits))
        if attempts[-1][0] > 0:
            break
    return max(attempts, key=lambda attempt: attempt[0])[1]


def _attempt(
    tune: Tune,
    groups: Iterable[Group],
    wishes: Wishes,
    limits: Limits,
    *,
    goals: Sequence[_Goal],
    count: int | None,
) -> tuple[Edit, ...]:
    """Choose among groups: so many edits, or as many as the goals need."""
    level, idiom = wishes.level, wishes.terms.idiom
    bars = sum(any(note.pitch for note in bar.notes) for bar in tune.bars)
    limit = round(bars * _SHARE[level]) if count is None else count
    choice = Choice(
        tune,
        groups,
        limits,
        idiom,
        a_bar=_A_BAR[level],
        most_a_bar=_MOST_A_BAR[level],
    )
    if level == "advanced":
        choice.fill(round(limit * _HARMONY_SHARE), family="harmony")
    choice.fill(limit)
    if count is None:
        while len(choice.edits) < bars * _MOST[level]:
            if all(goal.is_met(choice.gauge) for goal in goals):
                break
            if choice.fill(len(choice.edits) + 1, most_over=_MOST_COPIES):
                continue
            if choice.loosened == _LOOSENED:
                break
            choice.loosen()
    return without_faults(choice, limits, idiom)


def _goals(tune: Tune, form: Form, wishes: Wishes) -> tuple[_Goal, ...]:
    """Say what a draft has to beat."""
    terms = wishes.terms
    below = terms.below
    if below is None and wishes.level == "advanced":
        lower = replace(wishes, level="intermediate")
        below = apply_edits(tune, _draft(tune, form, lower))
    below = below or tune
    tempo = terms.tempo_qpm
    goals = [_Goal(tempo, difficulty(below, tempo).overall, _MARGIN[wishes.level])]
    if terms.played_qpm:
        slower, own = terms.played_qpm
        goals.append(_Goal(own, difficulty(below, slower).overall, _PRINTED))
    return tuple(goals)


def _groups(tune: Tune, form: Form, found: Sequence[Candidate]) -> Iterator[Group]:
    """Put candidates in like bars together, if each of those bars allows them."""
    copies = _copies(tune, form)
    ranks = {item.idea.edit: item for item in found}
    seen: set[tuple[object, ...]] = set()
    for edit, item in ranks.items():
        numbers = copies.setdefault(edit.bar, (edit.bar,))
        # Like bars share one tuple of numbers, so that its identity tells them.
        idea = (id(numbers), edit.beat, edit.do, edit.options)
        if idea in seen:
            continue
        seen.add(idea)
        edits = tuple(replace(edit, bar=number) for number in numbers)
        if all(copy in ranks for copy in edits):
            yield Group(edits, item.rank, family_of(edit.do))


def _copies(tune: Tune, form: Form) -> dict[int, tuple[int, ...]]:
    """Group the printed numbers of bars that hold the same music in like sections."""
    order = playing_order(tune)
    keys = bar_keys(tune)
    # A bar that is played several times has its number once: the keys of a dict.
    groups: dict[tuple[object, ...], dict[int, None]] = {}
    for section in form.sections:
        for offset, place in enumerate(range(section.first, section.last + 1)):
            index = order[place]
            alike = groups.setdefault((section.label, offset, keys[index]), {})
            alike[tune.bars[index].number] = None
    copies: dict[int, tuple[int, ...]] = {}
    shared: dict[tuple[int, ...], tuple[int, ...]] = {}
    for alike in groups.values():
        numbers = tuple(alike)
        copies.update(dict.fromkeys(numbers, shared.setdefault(numbers, numbers)))
    return copies
