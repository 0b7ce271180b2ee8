"""Which edits might a teacher make for a harder level?

`suggestions` lists candidates for a bar, a section or the whole tune, best first, each with
its reason and what it does to the difficulty. `kit.levels.draft` chooses among them.

Conventions
-----------
* Everything is decided by the music, the taste and a seed; the same input gives the same
  list. The seed only shuffles what is about equally good.
* Phrase ends (the last bar of a section) are left alone.
* The tune's idiom (`kit.levels.idioms`) says which edits there are at all.
* A candidate is dropped if the music refuses it, if it makes a note rub on a strong place
  (`kit.levels.clash`), if a teacher would strike it out of the finished bars
  (`kit.levels._faults`), or if a player could not reach or breathe it
  (`kit.levels._limits`). All of it at the tempo of the idiom's fastest level, unless
  another one is given: what is learned at one level is played faster at the next.

Source: the ideas are common practice (`kit.levels._ideas`); the ranking is our own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from random import Random

from kit.form.sections import Form
from kit.levels._faults import Reading, new_faults, read_again
from kit.levels._harmony_ideas import ideas_for_changes
from kit.levels._ideas import Idea, ideas_for_note, running_value
from kit.levels._limits import Limits
from kit.levels._music import Music
from kit.levels._player import Player
from kit.levels._tally import Breaths, Gauge
from kit.levels._window import Ground, cut_out, tie_free
from kit.levels.clash import clashes_in
from kit.levels.difficulty import Difficulty, difficulty, overall_difficulty
from kit.levels.edit import Edit
from kit.levels.edits import Editing, family_of
from kit.levels.idioms import Idiom
from kit.levels.rewrite import sounds_of
from kit.levels.spots import spots
from kit.levels.wishes import LevelName, Taste, Terms, Wishes, tastes
from kit.tune.model import Tune

__all__ = [
    "Candidate",
    "Suggestion",
    "Surroundings",
    "around",
    "candidates",
    "gain_of",
    "suggestions",
]

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
    before: Surroundings
    after: Surroundings


class Surroundings:
    """Some bars with what is asked of them again and again, found once."""

    def __init__(self, editing: Editing, music: Music) -> None:
        self.editing = editing
        self.music = music
        self._reading: Reading | None = None

    @classmethod
    def of(cls, tune: Tune) -> Surroundings:
        """Take bars as they are."""
        return cls(Editing(tune), Music.of(tune))

    @property
    def tune(self) -> Tune:
        """The bars."""
        return self.music.tune

    @cached_property
    def heights(self) -> frozenset[int]:
        """MIDI numbers of the sounds."""
        return frozenset(sound.pitch.midi for sound in self.music.sounds)

    @cached_property
    def clashes(self) -> frozenset[tuple[Fraction, int]]:
        """As `kit.levels.clash.clashes`."""
        return clashes_in(self.music, range(len(self.tune.bars)))

    def reading(self, limits: Limits, idiom: Idiom) -> Reading:
        """Read the bars as a teacher does; limits and idiom are the same each time."""
        if self._reading is None:
            self._reading = Reading(self.music, limits, idiom)
        return self._reading

    @cached_property
    def gauge(self) -> Gauge:
        """What can be counted on the bars."""
        return Gauge(self.music)

    def edited(self, edit: Edit) -> Surroundings | None:
        """Give the bars with an edit; None if the music does not allow it."""
        done = self.editing.try_out(edit)
        if done is None or done.tune == self.tune:
            return None
        music = self.music.edited(done.tune, done.first, done.last)
        return Surroundings(done, music)


def suggestions(
    tune: Tune,
    form: Form,
    *,
    level: LevelName,
    bars: Collection[int] | None = None,
    seed: int = 0,
    instruments: Sequence[Player] = (),
    taste: Taste = "balanced",
    terms: Terms | None = None,
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
    instruments : sequence of kit.instruments.table.Instrument
        Who plays it: nothing is suggested beyond their comfortable range and breath.
    taste : "balanced", "rhythm", "ornaments", "lines" or "harmony"
        What to lean to.
    terms : Terms, optional
        Idiom and tempo; the tune's own unless said.

    Raises
    ------
    ValueError
        For another level or taste.
    """
    terms = terms or Terms.of(tune)
    wishes = Wishes(level, terms, seed, instruments, taste)
    found = [
        _suggestion(item, terms.tempo_qpm)
        for item in candidates(tune, form, wishes, wishes.limits(tune), bars=bars)
    ]
    return tuple(sorted(found, key=lambda s: (-s.rank, s.edit.bar, s.edit.beat, s.edit.do)))


def candidates(
    tune: Tune,
    form: Form,
    wishes: Wishes,
    limits: Limits,
    *,
    bars: Collection[int] | None = None,
) -> Iterator[Candidate]:
    """Yield the ideas that may be used, in order of bars; options as for `suggestions`.

    Parameters
    ----------
    limits : Limits
        As `Wishes.limits` gives them for the tune.
    """
    bold = wishes.level == "advanced"
    idiom = wishes.terms.idiom
    ideas: list[Idea] = []
    run = running_value(sounds_of(tune))
    for spot in spots(tune, form):
        ideas += ideas_for_note(spot, bold=bold, idiom=idiom, run=run)
    if bold:
        ideas += ideas_for_changes(tune, form, idiom=idiom)
    leaning = tastes()[wishes.taste]
    breathing = _Breathing(tune, limits)
    ground = Ground(tune)
    places: dict[int, Surroundings] = {}
    for idea in ideas:
        number = idea.edit.bar
        if bars is not None and number not in bars:
            continue
        if number not in places:
            index = ground.indices_of(number)[0]
            places[number] = Surroundings.of(around(tune, index))
        after = _allowed(places[number], idea.edit, limits, idiom)
        if after is None or not breathing.is_left_by(idea.edit):
            continue
        # Seeded by the edit too: an idea more or less does not shuffle the others.
        shuffle = Random(f"{wishes.seed} {idea.edit}").uniform(-_SHUFFLE, _SHUFFLE)
        rank = idea.rank + leaning.get(family_of(idea.edit.do), 0.0) + shuffle
        yield Candidate(idea, rank, places[number], after)


def around(tune: Tune, index: int) -> Tune:
    """Cut out a bar with the two bars on either side, its first chord made explicit.

    Parameters
    ----------
    tune : Tune
        As written.
    index : int
        Of the bar; at either end of the tune there are fewer bars beside it.
    """
    return cut_out(tune, max(0, index - _BESIDE), index + _BESIDE)


def _allowed(
    before: Surroundings, edit: Edit, limits: Limits, idiom: Idiom
) -> Surroundings | None:
    """Apply an edit, or give None if the music, the changes or the players forbid it."""
    after = before.edited(edit)
    if after is None or not limits.allow(after.heights - before.heights):
        return None
    heard = after.editing.heard(after.tune)
    # What rubbed before is the tune's own.
    if clashes_in(after.music, heard) - before.clashes:
        return None
    was = before.reading(limits, idiom)
    now = read_again(was, after.music, limits, idiom)
    adds = family_of(edit.do) == "pitches"
    return None if new_faults(was, now, said_twice=adds) else after


class _Breathing:
    """Knows whether there is still a place to breathe, in the whole tune."""

    def __init__(self, tune: Tune, limits: Limits) -> None:
        sounds = sounds_of(tune)
        self._most = limits.longest_breath(sounds)
        self._editing = Editing(tune)
        self._breaths = Breaths(sounds)

    def is_left_by(self, edit: Edit) -> bool:
        """Whether an edit leaves everyone a place to breathe."""
        if self._most is None:
            return True
        after = self._editing.try_out(edit)
        if after is None:
            return False
        bars = tie_free(after.tune.bars, after.first, after.last)
        part = Music.of(cut_out(after.tune, *bars))
        start = after.ground.starts[bars[0]]
        return self._breaths.copy().replace(part, start) <= self._most


def _suggestion(item: Candidate, tempo_qpm: float) -> Suggestion:
    before, after = (difficulty(bars.tune, tempo_qpm) for bars in (item.before, item.after))
    effect = round(after.overall - before.overall, 1)
    words = _effect(before, after)
    return Suggestion(item.idea.edit, round(item.rank, 2), item.idea.reason, effect, words)


def gain_of(item: Candidate, tempo_qpm: float) -> float:
    """Say by how much a candidate makes the bars around it harder.

    Parameters
    ----------
    item : Candidate
        An edit with the bars around it before and after.
    tempo_qpm : float > 0
        Quarter notes per minute.

    Returns
    -------
    float, -9 to 9
        Difference of the overall difficulties; negative where it gets easier.
    """
    before = item.before.gauge
    after = before.replaced(item.before.music, item.after.music)
    return overall_difficulty(after, tempo_qpm) - overall_difficulty(before, tempo_qpm)


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
