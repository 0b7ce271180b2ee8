"""Which edits might a teacher make for a harder level?

`suggestions` lists candidates for a bar, a section or the whole tune, best first, each with
its reason and what it does to the difficulty. `kit.levels.draft` chooses among them.

Conventions
-----------
* Everything is decided by the music, the taste and a seed; the same input gives the same
  list. The seed only shuffles what is about equally good.
* Phrase ends (the last bar of a section) are left alone.
* A candidate is dropped if the music refuses it, if it makes a note rub on a strong place
  (`kit.levels.clash`), or if a player could not reach or breathe it (`kit.levels.limits`).

Source: the ideas are common practice (`kit.levels.ideas`); the ranking is our own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from random import Random
from typing import Literal

from kit.errors import LevelError
from kit.form.sections import Form
from kit.levels.clash import clashes
from kit.levels.difficulty import Difficulty, difficulty
from kit.levels.edit import Edit
from kit.levels.edits import apply_edit, family_of
from kit.levels.harmony_ideas import ideas_for_changes
from kit.levels.ideas import Idea, ideas_for_note, running_value
from kit.levels.limits import Limits, limits_of
from kit.levels.player import Player
from kit.levels.rewrite import sounds_of
from kit.levels.spots import spots
from kit.tune.model import Tune

__all__ = [
    "LEVELS",
    "TASTES",
    "Candidate",
    "LevelName",
    "Suggestion",
    "Taste",
    "Wishes",
    "around",
    "candidates",
    "effect_of",
    "suggestions",
    "tempo_of",
]

LevelName = Literal["intermediate", "advanced"]
Taste = Literal["balanced", "rhythm", "ornaments", "lines", "harmony"]
LEVELS: tuple[LevelName, ...] = ("intermediate", "advanced")
TASTES: tuple[Taste, ...] = ("balanced", "rhythm", "ornaments", "lines", "harmony")
_SHUFFLE = 0.4
_BESIDE = 2
_HARDLY = 0.05


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A candidate edit.

    Parameters
    ----------
    edit : Edit
        What to put into the level file.
    rank : float
        Higher is better.
    reason : str
        Why, as a clause.
    effect : float
        What it adds to the difficulty of its bar and the bars beside it, 0 to 10.
    effect_words : str
        The same in words, with the part of the difficulty that changes most.
    """

    edit: Edit
    rank: float
    reason: str
    effect: float = 0.0
    effect_words: str = ""


@dataclass(frozen=True, slots=True)
class Candidate:
    """An idea that may be used, with the bars around it before and after."""

    idea: Idea
    rank: float
    before: Tune
    after: Tune


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked of edits: parameters of `suggestions`, refused where there are none."""

    level: LevelName
    seed: int = 0
    instruments: Sequence[Player] = ()
    taste: Taste = "balanced"

    def __post_init__(self) -> None:
        if self.level not in LEVELS:
            raise ValueError(
                f"drafts are made for {' and '.join(LEVELS)}, not {self.level!r}"
            )
        if self.taste not in TASTES:
            raise ValueError(f"{self.taste!r} is not one of {', '.join(TASTES)}")

    def limits(self, tune: Tune) -> Limits:
        """Work out what the players can do at the tune's own tempo."""
        return limits_of(tune, self.instruments, level=self.level, tempo_qpm=tempo_of(tune))


@cache
def _tastes() -> dict[str, dict[str, float]]:
    text = files("kit.levels").joinpath("taste.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def suggestions(
    tune: Tune,
    form: Form,
    *,
    level: LevelName,
    bars: Collection[int] | None = None,
    seed: int = 0,
    instruments: Sequence[Player] = (),
    taste: Taste = "balanced",
) -> tuple[Suggestion, ...]:
    """List candidate edits for a level, best first; each applies to the tune as it is.

    Parameters
    ----------
    tune : Tune
        As written, repeats not unfolded, at concert pitch.
    form : Form
        Sections over the unfolded tune.
    level : "intermediate" or "advanced"
        How bold they may be.
    bars : collection of int, optional
        Printed numbers of the bars wanted; all of them unless said.
    seed : int
        Another seed gives what is about equally good another order.
    instruments : sequence of kit.instruments.Instrument
        Who plays it: nothing is suggested beyond their comfortable range and breath.
    taste : "balanced", "rhythm", "ornaments", "lines" or "harmony"
        What to lean to.

    Raises
    ------
    ValueError
        For another level or taste.
    """
    wishes = Wishes(level, seed, instruments, taste)
    tempo = tempo_of(tune)
    found = [_suggestion(item, tempo) for item in candidates(tune, form, wishes, bars=bars)]
    return tuple(sorted(found, key=lambda s: (-s.rank, s.edit.bar, s.edit.beat, s.edit.do)))


def candidates(
    tune: Tune, form: Form, wishes: Wishes, *, bars: Collection[int] | None = None
) -> Iterator[Candidate]:
    """Yield the ideas that may be used, in order of bars; options as for `suggestions`."""
    bold = wishes.level == "advanced"
    jazz = _mostly_sevenths(tune)
    limits = wishes.limits(tune)
    ideas: list[Idea] = []
    run = running_value(sounds_of(tune))
    for spot in spots(tune, form):
        ideas += ideas_for_note(spot, bold=bold, jazz=jazz, run=run)
    if bold:
        ideas += ideas_for_changes(tune, form)
    leaning = _tastes()[wishes.taste]
    for idea in ideas:
        if bars is not None and idea.edit.bar not in bars:
            continue
        before = around(tune, tune.index_of(idea.edit.bar))
        after = _allowed(before, idea.edit, limits)
        if after is None or (
            limits.breath is not None and not _breathes(tune, idea, limits)
        ):
            continue
        shuffle = Random(f"{wishes.seed} {idea.edit}").uniform(-_SHUFFLE, _SHUFFLE)
        rank = idea.rank + leaning.get(family_of(idea.edit.do), 0.0) + shuffle
        yield Candidate(idea, rank, before, after)


def around(tune: Tune, index: int) -> Tune:
    """Cut out a bar with the two bars on either side, its first chord made explicit."""
    first = max(0, index - _BESIDE)
    bars = list(tune.bars[first : index + _BESIDE + 1])
    bars[0] = replace(bars[0], chords=tune.chords_in_force(first))
    return replace(tune, bars=tuple(bars))


def _allowed(tune: Tune, edit: Edit, limits: Limits) -> Tune | None:
    """Apply an edit, or give None if the music, the changes or the players forbid it."""
    try:
        after = apply_edit(tune, edit)
    except LevelError:
        return None
    if after == tune or clashes(after) - clashes(tune):
        return None
    return None if limits.height_problem(tune, after) else after


def _breathes(tune: Tune, idea: Idea, limits: Limits) -> bool:
    """Whether there is still a place to breathe, which takes a look at the whole tune."""
    if limits.breath is None:
        return True
    return limits.breath_problem(tune, apply_edit(tune, idea.edit)) is None


def tempo_of(tune: Tune) -> float:
    """Give the tune's own tempo in quarter notes a minute, or one at which it is easy."""
    return tune.tempo_qpm or running_value(sounds_of(tune)).tempo_qpm


def _mostly_sevenths(tune: Tune) -> bool:
    """Whether most chords carry a seventh or more: the tune is likely to be swung."""
    sizes = [len(event.symbol.notes) for bar in tune.bars for event in bar.chords]
    return 2 * sum(size > 3 for size in sizes) > len(sizes)


def _suggestion(item: Candidate, tempo_qpm: float) -> Suggestion:
    before, after = effect_of(item, tempo_qpm)
    effect = round(after.overall - before.overall, 1)
    words = _effect(before, after)
    return Suggestion(item.idea.edit, round(item.rank, 2), item.idea.reason, effect, words)


def effect_of(item: Candidate, tempo_qpm: float) -> tuple[Difficulty, Difficulty]:
    """Measure the bars around a candidate, without it and with it."""
    return difficulty(item.before, tempo_qpm), difficulty(item.after, tempo_qpm)


def _effect(before: Difficulty, after: Difficulty) -> str:
    by_part = {
        name: (part.value**2 - before.parts[name].value ** 2) * part.weight
        for name, part in after.parts.items()
    }
    most = max(by_part, key=lambda name: abs(by_part[name]))
    if abs(by_part[most]) < _HARDLY:
        return "as hard for the fingers as before"
    by = f"by {most} ({after.parts[most].words})"
    if after.overall == before.overall:
        return f"hardly harder, {by}"
    more = "harder" if after.overall > before.overall else "easier"
    return f"{more} here, {before.overall:.1f} to {after.overall:.1f}, {by}"
