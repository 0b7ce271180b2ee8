"""What does the chord player play: which chord at each stroke, how laid out, how strong?

The rhythm comes from `kit.band._comp_rhythm`, the layouts from `kit.band._top_line`. A
stroke just before a change takes the chord that comes. A chord note that a later melody
note would rub against is let go before that note begins, as a pianist lifts one finger.

Source: common practice.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.band._comp_rhythm import Melody, Stroke, strokes_of
from kit.band._top_line import Asked, lead
from kit.band._voicing import (
    chord_classes,
    layouts,
    leads_to_minor,
    pitch_classes,
    rubs,
)
from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote
from kit.tune.chord import ChordSymbol

__all__ = ["comp"]

_PHRASE_BARS = 4
_SOON = Fraction(3, 2)
"""Beats: what the melody plays later than that is answered by letting a note go."""
_RUBS_FROM = Fraction(1, 4)
"""Of a beat: what sounds together for a shorter time is heard as passing (our choice)."""
_SHORTEST = Fraction(1, 3)
"""Of a beat: a note let go sooner than that is a slip."""


@dataclass(frozen=True, slots=True)
class _Struck:
    """A stroke with the chord that sounds in it."""

    bar: ChartBar
    start: Fraction
    length: Fraction
    place: int
    symbol: ChordSymbol

    @property
    def end(self) -> Fraction:
        return self.start + self.length


def comp(
    bars: Sequence[ChartBar], melody: Sequence[PartNote], *, rng: random.Random
) -> list[PartNote]:
    """Write the chords of all bars but the final one, which `ending` writes.

    Parameters
    ----------
    bars : sequence of ChartBar
        The whole chart.
    melody : sequence of PartNote
        The melody as performed, to stay out of its way.
    rng : random.Random
        Gives one number, from which all else follows bar by bar.
    """
    seed = rng.getrandbits(64)
    heard = Melody(melody)
    changes = [change for bar in bars for change in bar.changes]
    homes = [bar for bar in bars for _ in bar.changes]
    struck = _struck(bars, changes, strokes_of(bars, heard, seed=seed))
    asked: list[Asked] = []
    chance = random.Random(seed)
    before: _Struck | None = None
    for one in struck:
        if before is None or one.bar is not before.bar:
            # A stream of chance for each bar: a change elsewhere leaves this one alone.
            chance = random.Random(f"{seed}/{one.bar.start}")
        home = homes[one.place]
        asked.append(
            _asked(
                one, before, heard, home, _next_symbol(changes, one.place), chance=chance
            )
        )
        before = one
    notes: list[PartNote] = []
    for one, layout in zip(struck, lead(asked), strict=True):
        velocity = _velocity(one.bar, one.start, seed)
        for midi in layout:
            length = _let_go(one, midi, heard)
            notes.append(PartNote(one.start, length, midi, velocity))
    return _without_overlap(notes)


def _struck(
    bars: Sequence[ChartBar], changes: Sequence[Change], rhythm: Sequence[Sequence[Stroke]]
) -> list[_Struck]:
    """Find the chord of each stroke; what was anticipated is not struck again."""
    starts = [change.start for change in changes]
    found: list[_Struck] = []
    last: Change | None = None
    for bar, strokes in zip(bars, rhythm, strict=True):
        for start, length in strokes:
            place = _heard(changes, bisect_right(starts, start) - 1, start, bar)
            change = changes[place]
            if change.symbol is None:
                continue
            # What was anticipated before the bar line is not struck again on it.
            if start == bar.start and last == change and bar.band != "stop-time":
                continue
            last = change
            found.append(_Struck(bar, start, length, place, change.symbol))
    return found


def _asked(
    one: _Struck,
    before: _Struck | None,
    melody: Melody,
    home: ChartBar,
    follows: ChordSymbol | None,
    *,
    chance: random.Random,
) -> Asked:
    """Put together what the choice of a layout depends on."""
    beat = one.bar.pulse / (2 if one.bar.is_closer else 1)
    beside = melody.between(one.start, one.end)
    together = [note.midi for note in beside if _rubs_long(one, note, beat)]
    must, spare = chord_classes(
        one.symbol,
        pitch_classes(together),
        home.key,
        home.feel.tensions,
        leads_to_minor(one.symbol, follows),
    )
    offer = layouts(must, spare)
    return Asked(
        offer,
        melody=[note.midi for note in beside],
        together=together,
        melody_moves=_melody_moves(melody, before, one),
        is_grip=_keeps_grip(before, one, home),
        chance=[chance.random() for _ in offer.notes],
    )


def _keeps_grip(before: _Struck | None, one: _Struck, home: ChartBar) -> bool:
    """Say whether a dance's chord goes on, but for the start of a phrase of four bars."""
    if before is None or not home.feel.vamps or before.symbol != one.symbol:
        return False
    return before.bar is one.bar or one.bar.place % _PHRASE_BARS != 0


def _rubs_long(one: _Struck, note: PartNote, beat: Fraction) -> bool:
    """Say whether a melody note sounds with a stroke for long enough to rub."""
    shared = min(one.end, note.end) - max(one.start, note.start)
    soon = note.start - one.start < _SOON * beat
    return soon and (note.start == one.start or shared >= _RUBS_FROM * beat)


def _melody_moves(melody: Melody, before: _Struck | None, one: _Struck) -> int:
    if before is None:
        return 0
    earlier, now = melody.last_at(before.start), melody.last_at(one.start)
    if earlier is None or now is None or not melody.between(one.start, one.end):
        return 0
    return (now > earlier) - (now < earlier)


def _let_go(one: _Struck, midi: int, melody: Melody) -> Fraction:
    """Give the length of a chord note, ended where the melody would rub against it."""
    for note in melody.between(one.start, one.end):
        held = note.start - one.start
        if rubs(midi, note.midi) and held >= _SHORTEST * one.bar.pulse:
            # Before the melody's note, swung or not.
            return min(one.length, held * 9 / 10)
    return one.length


def _heard(changes: Sequence[Change], place: int, start: Fraction, bar: ChartBar) -> int:
    """Give the place of the change a stroke belongs to: its own, or the one that comes."""
    change = changes[place]
    follows = min(place + 1, len(changes) - 1)
    off_beat = (start - bar.start) % bar.pulse != 0
    # In swing the off-beat before a change has its chord already; an after-beat never has.
    early = off_beat and change.end - start <= bar.lead
    return follows if early and changes[follows].symbol is not None else place


def _next_symbol(changes: Sequence[Change], place: int) -> ChordSymbol | None:
    for other in changes[place + 1 :]:
        if other.symbol != changes[place].symbol:
            return other.symbol
    return None


def _velocity(bar: ChartBar, start: Fraction, seed: int) -> int:
    chance = random.Random(f"{seed}/{start}/level").uniform(-4, 4)
    off_beat = (start - bar.start) % bar.pulse != 0
    return round(58 + 12 * bar.fullness + (4 if off_beat else 0) + chance)


def _without_overlap(notes: list[PartNote]) -> list[PartNote]:
    """Release a key before it is struck again."""
    following: dict[int, Fraction] = {}
    kept: list[PartNote] = []
    for note in reversed(notes):
        limit = following.get(note.midi)
        length = note.duration
        if limit is not None and note.start + length > limit:
            length = limit - note.start
        following[note.midi] = note.start
        if length > 0:
            kept.append(PartNote(note.start, length, note.midi, note.velocity))
    return kept[::-1]
