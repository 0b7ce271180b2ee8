"""What can be counted on a sheet, bar by bar, so that counts of parts add up to the whole?

`measures` makes figures of the counts. A draft that changes a few bars of a long tune takes
the counts of those bars off, adds those of the new ones (`Gauge`), and need not count the
whole tune again.

Conventions: lengths are quarter notes; a breath is taken at any rest.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from copy import copy
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple

from kit.levels._music import Music
from kit.levels._syncopation import syncopations_among
from kit.levels.rewrite import Sound
from kit.tune.model import Bar
from kit.tune.pitch import Key

__all__ = ["Breaths", "Gauge", "Tally", "longest_breath", "plays", "tally"]

# Half steps: a fifth.
_WIDE = 7
_ALL = slice(None)
_NONE = Fraction(0)


class Tally(NamedTuple):
    """Counts of a sheet or of a part of it.

    `bars` that play, `sounds` and the `quarters` they last, `steps` from sound to sound
    with the `half_steps` in them and those that are `wide`, `notes` as written and those
    `outside` the key, `syncopated` sounds and their strength, `cut` beats out of `beats`,
    and `decorated` sounds.
    """

    bars: int = 0
    sounds: int = 0
    quarters: Fraction = Fraction(0)
    steps: int = 0
    half_steps: int = 0
    wide: int = 0
    notes: int = 0
    outside: int = 0
    syncopated: int = 0
    syncopation: int = 0
    cut: int = 0
    beats: int = 0
    decorated: int = 0

    def replaced(self, before: Tally, after: Tally) -> Tally:
        """Take the counts of a part off and add those of what takes its place."""
        counts: Iterable[tuple[Any, Any, Any]] = zip(self, before, after, strict=True)
        return Tally(*(all_ - one + other for all_, one, other in counts))


def plays(bar: Bar) -> bool:
    """Whether there is a note in a bar."""
    return any(note.pitch is not None for note in bar.notes)


def tally(music: Music, *, bars: slice = _ALL, places: slice = _ALL) -> Tally:
    """Count what is on a sheet, or on a part of it.

    Parameters
    ----------
    music : Music
        The bars with their sounds.
    bars : slice
        The bars to count.
    places : slice
        The sounds to count; of these the steps to the neighbours on both sides count too.
    """
    notes = outside = cut = beats = playing = 0
    for bar in music.tune.bars[bars]:
        inside = _inside(bar.key)
        pitched = [note.pitch.midi for note in bar.notes if note.pitch is not None]
        notes += len(pitched)
        outside += sum(height % 12 not in inside for height in pitched)
        cut += len(set(_cut_beats(bar)))
        playing += bool(pitched)
        beats += bar.meter.pulses if pitched else 0
    first, last, _ = places.indices(len(music.sounds))
    some, linked = music.sounds[first:last], music.sounds[max(0, first - 1) : last + 1]
    sizes = [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(linked)]
    strengths = [
        item.strength for item in syncopations_among(music.tune, music.starts, linked)
    ]
    return Tally(
        bars=playing,
        sounds=len(some),
        quarters=sum((sound.duration for sound in some), Fraction(0)),
        steps=len(sizes),
        half_steps=sum(sizes),
        wide=sum(size > _WIDE for size in sizes),
        notes=notes,
        outside=outside,
        syncopated=len(strengths),
        syncopation=sum(strengths),
        cut=cut,
        beats=beats,
        decorated=sum(bool(sound.graces or sound.marks) for sound in some),
    )


@cache
def _inside(key: Key) -> frozenset[int]:
    return frozenset(name.pitch_class for name in key.scale)


def _cut_beats(bar: Bar) -> Iterator[int]:
    """Yield the beats in which a note starts off the eighths (off its thirds in 6/8)."""
    pulse = bar.meter.pulse
    unit = pulse / (3 if bar.meter.is_compound else 2)
    for note in bar.notes:
        if note.pitch is not None and note.onset % unit:
            yield note.onset // pulse


def longest_breath(sounds: Sequence[Sound]) -> Fraction:
    """Give the longest stretch without a rest, in quarter notes."""
    return max((end - start for start, end in _stretches(sounds)), default=Fraction(0))


def _stretches(sounds: Sequence[Sound]) -> Iterator[tuple[Fraction, Fraction]]:
    """Yield where each stretch without a rest starts and ends."""
    start = end = None
    for sound in sounds:
        if start is None or end is None or sound.start > end:
            if start is not None and end is not None:
                yield start, end
            start = sound.start
        end = sound.end
    if start is not None and end is not None:
        yield start, end


class Breaths:
    """The stretches without a rest, in order; a part of them can be replaced."""

    def __init__(self, sounds: Sequence[Sound]) -> None:
        found = list(_stretches(sounds))
        self._starts = [start for start, _ in found]
        self._ends = [end for _, end in found]
        self._lengths = [float(end - start) for start, end in found]

    def copy(self) -> Breaths:
        """Give another one to try something out on."""
        other = Breaths(())
        other._starts = self._starts.copy()
        other._ends = self._ends.copy()
        other._lengths = self._lengths.copy()
        return other

    @property
    def longest(self) -> float:
        """The longest one, in quarter notes."""
        return max(self._lengths, default=0.0)

    def replace(self, music: Music, at: Fraction) -> Fraction:
        """Put other sounds into some bars, and give the longest stretch there.

        Parameters
        ----------
        music : Music
            The bars as they are now, cut where no sound crosses.
        at : Fraction
            Where they begin in the tune.
        """
        start, end = at, at + music.starts[-1]
        # A stretch that ends, or starts, right at the border may be joined on to.
        first = bisect_left(self._ends, start)
        last = bisect_right(self._starts, end)
        pieces: list[tuple[Fraction, Fraction]] = []
        if first < last and self._starts[first] < start:
            pieces.append((self._starts[first], min(start, self._ends[first])))
        pieces += [(one + at, other + at) for one, other in _stretches(music.sounds)]
        if first < last and self._ends[last - 1] > end:
            pieces.append((max(end, self._starts[last - 1]), self._ends[last - 1]))
        joined: list[tuple[Fraction, Fraction]] = []
        for one, other in pieces:
            if joined and joined[-1][1] >= one:
                joined[-1] = (joined[-1][0], other)
            else:
                joined.append((one, other))
        self._starts[first:last] = [one for one, _ in joined]
        self._ends[first:last] = [other for _, other in joined]
        lengths = [other - one for one, other in joined]
        self._lengths[first:last] = map(float, lengths)
        return max(lengths, default=Fraction(0))


class Gauge:
    """The counts of a tune that changes bit by bit, with its compass and its breaths."""

    def __init__(self, music: Music) -> None:
        self.tally = tally(music)
        self.heights = Counter(sound.pitch.midi for sound in music.sounds)
        self.breaths = Breaths(music.sounds)
        keys = (bar.key for bar in music.tune.bars)
        self.signature = max((abs(key.fifths) for key in keys), default=0)

    @property
    def span(self) -> int:
        """Half steps from the lowest sound to the highest."""
        return max(self.heights) - min(self.heights) if self.heights else 0

    def replaced(self, before: Music, after: Music, at: Fraction = _NONE) -> Gauge:
        """Give the gauge for a tune of which some bars have changed.

        Parameters
        ----------
        before, after : Music
            The bars, cut where no sound crosses, with an unchanged one at either end if
            the tune has more beyond them.
        at : Fraction
            Where they begin in the tune, in quarter notes.
        """
        other = copy(self)
        span, head, tail = after.changed_from(before)
        bars = slice(span.start, span.stop)
        old = slice(head, len(before.sounds) - tail)
        new = slice(head, len(after.sounds) - tail)
        other.tally = self.tally.replaced(
            tally(before, bars=bars, places=old), tally(after, bars=bars, places=new)
        )
        heights = self.heights.copy()
        heights.subtract(sound.pitch.midi for sound in before.sounds[old])
        heights.update(sound.pitch.midi for sound in after.sounds[new])
        # The plus drops heights whose count has come to 0.
        other.heights = +heights
        other.breaths = self.breaths.copy()
        other.breaths.replace(after, at)
        return other
