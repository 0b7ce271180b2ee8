"""The octave in which a part lies well.

Conventions
-----------
* Each octave has a *burden*, in semitones averaged over the playing time: how far notes
  leave the level's comfortable range (counted heavily) and the instrument's own range
  (ruled out if anything else is possible), how far the whole lies from the middle of the
  comfortable range, and a little for each octave away from the instrument's usual one.
* One octave serves the whole tune, and all levels of a lesson (`shared_octave`), so that a
  student who moves up a level finds the melody where it was. Only where notes still leave
  the instrument's range is a phrase moved by itself, from rest to rest, so that no phrase
  is broken.

Source: common practice of arrangers; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.instruments.table import Instrument, Range
from kit.tune.model import Bar, Note
from kit.tune.pitch import Interval, Pitch

__all__ = [
    "OctaveMove",
    "Place",
    "lightest_octave",
    "move_phrases",
    "octave_burdens",
    "outside",
]

Place = tuple[int, int]
"""Bar index and position in the bar."""

_BEYOND_WEIGHT = 100
_STRAIN_WEIGHT = 8
_UNUSUAL_BURDEN = 2
_PHRASE_REST = Fraction(1, 2)
_REACH = (0, -1, 1, -2, 2, -3, 3)


@dataclass(frozen=True, slots=True)
class OctaveMove:
    """A phrase that is written some octaves from the rest, both ends included."""

    first: Place
    last: Place
    octaves: int


def octave(count: int) -> Interval:
    """Give an interval of so many octaves."""
    return Interval(7 * count, 12 * count)


def octave_burdens(
    bars: Sequence[Bar], instrument: Instrument, level: str
) -> dict[int, Fraction]:
    """Give the burden of each octave by which written bars may be moved."""
    comfortable = instrument.comfortable_range(level)
    notes = [note for bar in bars for note in bar.notes if note.pitch is not None]
    return {
        count: _burden(notes, octave(count), instrument.range_written, comfortable)
        + _UNUSUAL_BURDEN * abs(count)
        for count in _REACH
    }


def lightest_octave(burdens: Sequence[Mapping[int, Fraction]]) -> int:
    """Choose the octave that is the least burden to all, the usual one if in doubt."""
    return min(_REACH, key=lambda count: sum(burden[count] for burden in burdens))


def _burden(
    notes: Sequence[Note], interval: Interval, full: Range, comfortable: Range
) -> Fraction:
    beyond = strain = weighted = total = Fraction(0)
    for note in notes:
        if note.pitch is None:
            continue
        pitch = note.pitch + interval
        total += note.duration
        weighted += note.duration * pitch.midi
        strain += note.duration * comfortable.excess(pitch)
        pitches = (pitch, *(grace.pitch + interval for grace in note.graces))
        if any(full.excess(each) for each in pitches):
            beyond += note.duration
    if not total:
        return Fraction(0)
    middle = Fraction(comfortable.low.midi + comfortable.high.midi, 2)
    return (
        (_BEYOND_WEIGHT * beyond + _STRAIN_WEIGHT * strain) / total
        + abs(weighted / total - middle)
    )  # fmt: skip


def move_phrases(bars: Sequence[Bar], full: Range) -> tuple[OctaveMove, ...]:
    """Find the phrases that leave a range and fit it an octave higher or lower.

    Neighbouring phrases are moved each by itself; phrases that fit in no octave stay.
    """
    moves = []
    for phrase in _phrases(bars):
        pitches = [p for place in phrase for p in _pitches(bars[place[0]].notes[place[1]])]
        if not any(full.excess(pitch) for pitch in pitches):
            continue
        for count in _REACH[1:]:
            if not any(full.excess(pitch + octave(count)) for pitch in pitches):
                moves.append(OctaveMove(phrase[0], phrase[-1], count))
                break
    return tuple(moves)


def outside(bars: Sequence[Bar], within: Range) -> tuple[Place, ...]:
    """Give the places of the notes that leave a range, by themselves or a grace note."""
    return tuple(
        (index, position)
        for index, bar in enumerate(bars)
        for position, note in enumerate(bar.notes)
        if any(within.excess(pitch) for pitch in _pitches(note))
    )


def _pitches(note: Note) -> Iterator[Pitch]:
    if note.pitch is not None:
        yield note.pitch
        yield from (grace.pitch for grace in note.graces)


def _phrases(bars: Sequence[Bar]) -> Iterator[list[Place]]:
    """Yield the places of the notes between rests."""
    phrase: list[Place] = []
    silence = Fraction(0)
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            if note.is_rest:
                silence += note.duration
                continue
            if silence >= _PHRASE_REST and phrase:
                yield phrase
                phrase = []
            silence = Fraction(0)
            phrase.append((index, position))
    if phrase:
        yield phrase
