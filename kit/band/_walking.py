"""Which quarter notes does a walking bass take from chord to chord?

Each chord starts on its root (or slash bass), its last beat leads into the next one, and
what lies between are chord notes and scale steps. All lines that fit are weighed: small
steps and a steady direction are cheap, leaps, repeats and figures just played are dear.
The cheapest wins, with a little chance so that choruses differ.

Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise, product

from kit.band._pattern_bass import BASS_RANGE, bass_class, nearest
from kit.band.chart import ChartBar
from kit.band.events import PartNote
from kit.tune.chord import ChordSymbol
from kit.tune.pitch import Key

__all__ = ["walk"]

_CENTRE = 38
# By semitones into the next root: a semitone leads best, then a tone, fourth and fifth.
_LEAD_IN = {1: 0.0, 2: 0.6, 5: 0.8, 7: 1.0}


@dataclass(frozen=True, slots=True)
class _Step:
    """A stretch of beats over one chord inside one bar."""

    beats: tuple[Fraction, ...]
    end: Fraction
    pulse: Fraction
    symbol: ChordSymbol
    key: Key
    is_new: bool
    fullness: float


def walk(
    bars: Sequence[ChartBar],
    *,
    rng: random.Random,
    after: int | None = None,
    into: ChordSymbol | None = None,
) -> list[PartNote]:
    """Walk through consecutive bars.

    Parameters
    ----------
    bars : sequence of ChartBar
        The bars to walk through.
    rng : random.Random
        Chance for variety; the same state gives the same line.
    after : int, optional
        MIDI number of the bass note before.
    into : ChordSymbol, optional
        The chord that follows the last bar.
    """
    steps = list(_steps(bars))
    notes: list[PartNote] = []
    last = after if after is not None else _CENTRE
    figures: list[tuple[int, ...]] = []
    for index, step in enumerate(steps):
        follows = steps[index + 1].symbol if index + 1 < len(steps) else into
        line = _line(step, follows, last, figures[-3:], rng)
        figures.append(tuple(midi - line[0] for midi in line))
        notes.extend(_as_notes(step, line, rng))
        last = line[-1]
    return notes


def _steps(bars: Sequence[ChartBar]) -> Iterator[_Step]:
    for bar in bars:
        grid = [bar.start + beat * bar.pulse for beat in range(bar.beats)]
        for change in bar.changes:
            if change.symbol is None:
                continue
            beats = [at for at in grid if change.start < at < change.end]
            yield _Step(
                (change.start, *beats), change.end, bar.pulse, change.symbol, bar.key,
                change.is_new, bar.fullness,
            )  # fmt: skip


def _line(
    step: _Step,
    follows: ChordSymbol | None,
    last: int,
    recent: list[tuple[int, ...]],
    rng: random.Random,
) -> tuple[int, ...]:
    first = _first_choices(step, last)
    count = len(step.beats)
    if count == 1:
        return (min(first, key=lambda midi: abs(midi - last) + 0.3 * abs(midi - _CENTRE)),)
    target = bass_class(follows) if follows is not None else bass_class(step.symbol)
    # Beyond four beats the middle repeats the search in pieces of four.
    free = min(count - 1, 3)
    strong = frozenset(name.pitch_class for name in step.symbol.note_names)
    home = bass_class(step.symbol)
    best: tuple[float, tuple[int, ...]] = (float("inf"), ())
    for start in first:
        near = _passing(step, start)
        choices = [near] * (free - 1) + [_approaches(step, target, start)]
        for rest in product(*choices):
            line = (start, *rest)
            cost = _cost(line, last, target, strong, recent, best[0]) + rng.random() * 1.5
            cost += 0.5 * (home != start % 12)
            if cost < best[0]:
                best = (cost, line)
    line = best[1]
    while len(line) < count:
        line = (*line[:-1], rng.choice(_passing(step, line[-2])), line[-1])
    return line


def _first_choices(step: _Step, last: int) -> list[int]:
    """Give the roots near by; in a chord that goes on, fifth or third will do as well."""
    classes = [bass_class(step.symbol)]
    if not step.is_new:
        names = (step.symbol.degree(5), step.symbol.degree(3))
        classes += [name.pitch_class for name in names if name is not None]
    low, high = BASS_RANGE
    return [
        midi
        for midi in range(low, high + 1)
        if midi % 12 in classes and abs(midi - last) <= 9
    ] or [nearest(classes[0], last)]


def _passing(step: _Step, around: int) -> list[int]:
    low, high = BASS_RANGE
    chord = {name.pitch_class for name in step.symbol.note_names}
    scale = {name.pitch_class for name in step.key.scale}
    # A semitone above a chord note rubs against it ("avoid note", common practice).
    avoid = {(tone + 1) % 12 for tone in chord} - chord
    useful = chord | (scale - avoid)
    return [
        midi
        for midi in range(max(low, around - 8), min(high, around + 8) + 1)
        if midi % 12 in useful and midi != around
    ]


def _approaches(step: _Step, target: int, around: int) -> list[int]:
    low, high = BASS_RANGE
    # A semitone from either side, or the dominant of what comes.
    leading = {(target + 1) % 12, (target - 1) % 12, (target + 7) % 12}
    scale = {name.pitch_class for name in step.key.scale}
    leading |= {
        (target + shift) % 12 for shift in (2, -2) if (target + shift) % 12 in scale
    }
    return [
        midi
        for midi in range(max(low, around - 10), min(high, around + 10) + 1)
        if midi % 12 in leading
    ]


def _cost(
    line: tuple[int, ...],
    last: int,
    target: int,
    strong: frozenset[int],
    recent: list[tuple[int, ...]],
    limit: float,
) -> float:
    """Weigh a line; one whose leaps alone reach the limit is not weighed to the end."""
    whole = (last, *line, nearest(target, line[-1]))
    moves = [b - a for a, b in pairwise(whole)]
    cost = sum([_leap(abs(move)) for move in moves])
    if cost >= limit:
        return cost
    turns = sum([a * b < 0 for a, b in pairwise(moves)])
    cost += 0.7 * turns + 0.06 * sum([abs(midi - _CENTRE) for midi in line])
    # The lead-in: a semitone or the dominant; a tone is good too.
    cost += _LEAD_IN.get(abs(moves[-1]), 3.0)
    cost += 2.0 * (len(line) - len(set(line)))
    cost += 2.5 * (tuple(midi - line[0] for midi in line) in recent)
    if len(line) >= 3:
        # The third beat is strong and wants a chord note more than the second does.
        cost += 0.8 * (line[2] % 12 not in strong)
        cost += 0.4 * (line[1] % 12 not in strong)
    return cost


@cache
def _leap(size: int) -> float:
    if size == 0:
        # A walking line does not stand still.
        return 2.5
    if size <= 2:
        return 0.0
    # Past a fifth it is a leap to be asked for, past an octave it is out of the question.
    return 0.25 * size + (6.0 if size > 7 else 0.0) + (60.0 if size > 12 else 0.0)


def _as_notes(step: _Step, line: tuple[int, ...], rng: random.Random) -> list[PartNote]:
    stops = (*step.beats[1:], step.end)
    notes: list[PartNote] = []
    for index, (start, stop, midi) in enumerate(zip(step.beats, stops, line, strict=True)):
        length = stop - start
        # Two and four a shade stronger, as with the hi-hat.
        velocity = 80 + (3 if index % 2 else 0) + rng.randrange(-4, 5)
        # Now and then a light eighth leads into the next beat, as bass players do.
        skip = (
            length == step.pulse and index == len(line) - 1
            and step.fullness > 0.8 and rng.random() < 0.12
        )  # fmt: skip
        if skip:
            # A beat that is divided in three has its off-beat on the third.
            thirds = step.pulse.numerator % 3 == 0
            late = step.pulse * (Fraction(2, 3) if thirds else Fraction(1, 2))
            notes.append(PartNote(start, late * 9 / 10, midi, velocity))
            short = (step.pulse - late) * 8 / 10
            notes.append(PartNote(start + late, short, midi, velocity - 22))
        else:
            notes.append(PartNote(start, length * 19 / 20, midi, velocity))
    return notes
