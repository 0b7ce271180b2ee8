"""When does the chord player play, and what does that do for the soloist?

The feel's patterns give the rhythm. Around them: the pattern changes from bar to bar, a
light chorus takes sparse ones and a full one busy ones, a dense melody gets the fewest
chords, a stroke just before a change takes the chord that comes, and every chord that
lasts two beats is heard at least once.

Source: common practice.
"""

from __future__ import annotations

import random
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from fractions import Fraction

from kit.band._figures import comp_patterns
from kit.band._voicing import leads_to_minor, voice
from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote
from kit.band.feel import CompPattern
from kit.tune.chord import ChordSymbol

__all__ = ["comp"]

_LEANING = 10.0
"""How strongly a light chorus leans to patterns of few strokes, a full one to many."""

Stroke = tuple[Fraction, Fraction]


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
        Chooses rhythms.
    """
    changes = [change for bar in bars for change in bar.changes]
    starts = [change.start for change in changes]
    homes = [bar for bar in bars for _ in bar.changes]
    notes: list[PartNote] = []
    before: tuple[int, ...] = ()
    last: CompPattern | None = None
    struck: tuple[Fraction, Change] | None = None
    for bar in bars:
        if bar.is_final:
            break
        strokes, last = _strokes(bar, melody, last, rng)
        for start, length in strokes:
            place = _heard(changes, bisect_right(starts, start) - 1, start, bar)
            change = changes[place]
            if change.symbol is None:
                continue
            # What was anticipated before the bar line is not struck again on it.
            if start == bar.start and struck is not None and struck[1] == change:
                continue
            struck = (start, change)
            home = homes[place]
            stop = start + length
            before = voice(
                change.symbol,
                before=before,
                melody=_sounding(melody, start, stop),
                key=home.key,
                tensions=home.feel.tensions,
                to_minor=leads_to_minor(change.symbol, _next_symbol(changes, place)),
                rng=rng,
            )
            velocity = _velocity(bar, start, rng)
            notes.extend(PartNote(start, length, midi, velocity) for midi in before)
    return _without_overlap(notes)


def _strokes(
    bar: ChartBar, melody: Sequence[PartNote], last: CompPattern | None, rng: random.Random
) -> tuple[list[Stroke], CompPattern | None]:
    strokes: list[Stroke] = []
    beat = 0
    inside = _first_from(melody, bar.end) - _first_from(melody, bar.start)
    # Our choice: running eighths are 2 notes a beat, a singing line is 1 or fewer.
    busy = inside > 1.4 * bar.beats
    for index, group in enumerate(bar.groups):
        fitting = comp_patterns(bar, index)
        choices = [p for p in fitting if p is not last] or list(fitting)
        if busy:
            fewest = min(len(p.hits) for p in choices)
            choices = [p for p in choices if len(p.hits) <= fewest]
        # At a fullness of 0.7 all patterns are as likely; below it the sparse ones lead.
        weights = [len(p.hits) ** (_LEANING * (bar.fullness - 0.7)) for p in choices]
        (last,) = rng.choices(choices, weights)
        for at, length in last.hits:
            start = bar.moment(beat + at)
            if at < group and start < bar.end:
                strokes.append((start, length * bar.pulse))
        beat += group
    strokes += _missing(bar, strokes)
    return _cut(sorted(strokes), bar), last


def _missing(bar: ChartBar, strokes: Sequence[Stroke]) -> list[Stroke]:
    """State the chords that last two beats or more and that the pattern passes over."""
    return [
        (change.start, min(change.end - change.start, 2 * bar.pulse) * 9 / 10)
        for change in bar.changes
        if change.end - change.start >= min(2 * bar.pulse, bar.length)
        and not any(change.start <= start < change.end - bar.lead for start, _ in strokes)
    ]


def _cut(strokes: list[Stroke], bar: ChartBar) -> list[Stroke]:
    """End each stroke before the next and before a change it does not belong to."""
    cut: list[Stroke] = []
    for index, (start, length) in enumerate(strokes):
        stop = min(start + length, bar.hold_until) if start < bar.hold_until else bar.end
        if index + 1 < len(strokes):
            stop = min(stop, strokes[index + 1][0])
        for change in bar.changes:
            # A stroke just ahead of a change already sounds the new chord in some feels.
            if start < change.start - bar.lead:
                stop = min(stop, change.start)
        cut.append((start, stop - start))
    return cut


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


def _first_from(melody: Sequence[PartNote], position: Fraction) -> int:
    """Give the place of the first note from a position on; the melody is in order."""
    return bisect_left(melody, position, key=lambda note: note.start)


def _sounding(
    melody: Sequence[PartNote], start: Fraction, stop: Fraction
) -> frozenset[int]:
    # The melody is one voice: nothing past `stop`, or far ahead of `start`, needs a look.
    found = []
    for note in reversed(melody[: _first_from(melody, stop)]):
        if note.end <= start:
            break
        found.append(note.midi)
    return frozenset(found)


def _velocity(bar: ChartBar, start: Fraction, rng: random.Random) -> int:
    off_beat = (start - bar.start) % bar.pulse != 0
    return round(58 + 12 * bar.fullness + (4 if off_beat else 0) + rng.uniform(-4, 4))


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
