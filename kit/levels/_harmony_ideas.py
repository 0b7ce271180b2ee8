"""Which new chords suit a tune's changes?

Whether the melody rubs against them is read off the finished bars (`kit.levels._faults`).
The tonic that opens a section is never replaced: the ear must know where it is. In a blues,
whose tonic is itself a dominant, that is bar 1 most of all. Source: common practice of
reharmonisation; the ranks are our own.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kit.form.harmony import is_dominant, is_major, is_minor
from kit.form.sections import Form
from kit.levels._ideas import Idea
from kit.levels.edit import Edit
from kit.levels.idioms import Idiom
from kit.levels.rewrite import bar_starts
from kit.levels.spots import open_bars
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune
from kit.tune.unfold import playing_order

__all__ = ["ideas_for_changes"]


@dataclass(frozen=True, slots=True)
class _Move:
    """A chord that moves to the next; its duration is in quarter notes."""

    bar: Bar
    beat: Fraction
    goal_bar: Bar
    goal_beat: Fraction
    symbol: ChordSymbol
    goal: ChordSymbol
    duration: Fraction
    goal_open: bool
    opens: bool
    """Whether it is the tonic at a section's start."""

    @property
    def up(self) -> int:
        """Half steps from the root up to the goal's."""
        assert self.symbol.root is not None
        assert self.goal.root is not None
        return (self.goal.root.pitch_class - self.symbol.root.pitch_class) % 12


def ideas_for_changes(tune: Tune, form: Form, *, idiom: Idiom) -> Iterator[Idea]:
    """Yield reharmonisations for an advanced level, as far as the idiom knows them."""
    for move in _moves(tune, form):
        for idea in (*_for_dominant(move), *_on_the_way(move)):
            leaning = idiom.edits.get(idea.edit.do)
            if leaning is not None:
                yield idea._replace(rank=idea.rank + leaning)


def _moves(tune: Tune, form: Form) -> Iterator[_Move]:
    wanted = open_bars(tune, form)
    starts = bar_starts(tune)
    order = playing_order(tune)
    openings = {order[section.first] for section in form.sections}
    events = [
        (index, event.onset, event.symbol)
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
    ]
    for (index, onset, symbol), (then, there, goal) in pairwise(events):
        if index not in wanted or symbol.root is None or goal.root is None:
            continue
        bar, goal_bar = tune.bars[index], tune.bars[then]
        home = symbol.root.pitch_class == bar.key.tonic.pitch_class
        yield _Move(
            bar,
            onset / Fraction(4, bar.meter.beat_type) + 1,
            goal_bar,
            there / Fraction(4, goal_bar.meter.beat_type) + 1,
            symbol,
            goal,
            starts[then] + there - starts[index] - onset,
            then in wanted,
            home and index in openings,
        )


def _for_dominant(move: _Move) -> Iterator[Idea]:
    # Only from a fifth above the goal does the substitute slide down by a half step.
    if not is_dominant(move.symbol) or move.up != 5 or move.opens:
        return
    yield Idea(
        Edit(move.bar.number, move.beat, "tritone substitute"),
        2.7,
        f"{move.symbol} goes to {move.goal}: its tritone substitute slides down to it",
    )
    if move.duration / 2 >= 2 * move.bar.meter.pulse:
        yield Idea(
            Edit(move.bar.number, move.beat, "ii before V"),
            2.5,
            f"{move.symbol} lasts long enough to share its time with the ii before it",
        )


def _on_the_way(move: _Move) -> Iterator[Idea]:
    """Chords between two chords: a dominant of the second, or a diminished one."""
    if is_dominant(move.symbol) or not move.goal_open or move.duration < 4:
        return
    settled = is_major(move.goal) or is_minor(move.goal)
    # A fifth above its goal the chord has the dominant's root already.
    if settled and move.up not in (0, 5):
        yield Idea(
            Edit(
                move.goal_bar.number,
                move.goal_beat,
                "secondary dominant",
                (("by", "half"),),
            ),
            2.4,
            f"{move.goal} can be announced by its own dominant for half a bar",
        )
    if move.up in (2, 10):
        yield Idea(
            Edit(
                move.goal_bar.number,
                move.goal_beat,
                "passing diminished",
                (("by", "half"),),
            ),
            2.3,
            f"{move.symbol} and {move.goal} lie a whole step apart: a diminished chord "
            "joins them",
        )
