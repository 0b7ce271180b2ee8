"""Which new chords suit a tune's changes without rubbing against its melody?

Conventions: a new chord is wanted only where no note of the melody over it lies a half step
above its root, third or fifth (for a tritone substitute, its seventh too). Source: common
practice of reharmonisation; the ranks are our own.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kit.form.harmony import is_dominant, is_major, is_minor
from kit.form.sections import Form
from kit.levels._ideas import Idea
from kit.levels.edit import Edit
from kit.levels.rewrite import bar_starts, sounds_of
from kit.levels.spots import open_bars
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune

__all__ = ["ideas_for_changes"]


@dataclass(frozen=True, slots=True)
class _Move:
    """A chord that moves to the next, with the melody over it as pitch classes.

    Times are quarter notes from the chord's start.
    """

    bar: Bar
    beat: Fraction
    goal_bar: Bar
    goal_beat: Fraction
    symbol: ChordSymbol
    goal: ChordSymbol
    duration: Fraction
    melody: tuple[tuple[Fraction, Fraction, int], ...]
    goal_open: bool

    @property
    def up(self) -> int:
        """Half steps from the root up to the goal's."""
        assert self.symbol.root is not None
        assert self.goal.root is not None
        return (self.goal.root.pitch_class - self.symbol.root.pitch_class) % 12

    def sounding(self, start: Fraction, end: Fraction) -> set[int]:
        """Pitch classes that sound within a stretch of the chord's time."""
        return {note for begin, stop, note in self.melody if begin < end and stop > start}


def ideas_for_changes(tune: Tune, form: Form) -> Iterator[Idea]:
    """Yield reharmonisations for an advanced level, each free of clashes."""
    for move in _moves(tune, form):
        yield from _for_dominant(move)
        yield from _on_the_way(move)


def _moves(tune: Tune, form: Form) -> Iterator[_Move]:
    wanted = open_bars(tune, form)
    sounds, starts = sounds_of(tune), bar_starts(tune)
    moments = [sound.start for sound in sounds]
    events = [
        (index, event.onset, event.symbol)
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
    ]
    for (index, onset, symbol), (then, there, goal) in pairwise(events):
        if index not in wanted or symbol.root is None or goal.root is None:
            continue
        start, end = starts[index] + onset, starts[then] + there
        bar, goal_bar = tune.bars[index], tune.bars[then]
        # Sounds do not overlap: only the one before the chord can last into it.
        first = max(0, bisect_left(moments, start) - 1)
        yield _Move(
            bar,
            onset / Fraction(4, bar.meter.beat_type) + 1,
            goal_bar,
            there / Fraction(4, goal_bar.meter.beat_type) + 1,
            symbol,
            goal,
            end - start,
            tuple(
                (s.start - start, s.end - start, s.pitch.midi % 12)
                for s in sounds[first : bisect_left(moments, end)]
                if s.end > start
            ),
            then in wanted,
        )


def _for_dominant(move: _Move) -> Iterator[Idea]:
    # Only from a fifth above the goal does the substitute slide down by a half step.
    if not is_dominant(move.symbol) or move.up != 5:
        return
    root = move.symbol.root
    assert root is not None
    whole = move.sounding(Fraction(0), move.duration)
    if whole and not whole & _rub(root.pitch_class + 6, third=4, seventh=True):
        yield Idea(
            Edit(move.bar.number, move.beat, "tritone substitute"),
            2.7,
            f"{move.symbol} goes to {move.goal}: its tritone substitute slides down to it",
        )
    half = move.duration / 2
    early = move.sounding(Fraction(0), half)
    minor = is_minor(move.goal)
    two = _rub(root.pitch_class + 7, third=3, fifth=6 if minor else 7)
    if half >= 2 * move.bar.meter.pulse and not early & two:
        yield Idea(
            Edit(move.bar.number, move.beat, "ii before V"),
            2.5,
            f"{move.symbol} lasts long enough to share its time with the ii before it",
        )


def _on_the_way(move: _Move) -> Iterator[Idea]:
    """Chords between two chords: a dominant of the second, or a diminished one."""
    if is_dominant(move.symbol) or not move.goal_open or move.duration < 4:
        return
    goal = move.goal.root
    assert goal is not None
    late = move.sounding(move.duration - 2, move.duration)
    settled = is_major(move.goal) or is_minor(move.goal)
    # A fifth above its goal the chord has the dominant's root already.
    if settled and move.up not in (0, 5) and not late & _rub(goal.pitch_class + 7, third=4):
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
    step = {2: goal.pitch_class - 1, 10: goal.pitch_class + 1}.get(move.up)
    if step is not None and not late & _rub(step, third=3, fifth=6):
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


def _rub(root: int, *, third: int, fifth: int = 7, seventh: bool = False) -> set[int]:
    """Pitch classes a half step above a chord's root, third, fifth or (if so) seventh."""
    steps = (0, third, fifth, *((10,) if seventh else ()))
    return {(root + step + 1) % 12 for step in steps}
