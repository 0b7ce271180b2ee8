"""The octave in which a part lies well.

Conventions
-----------
* The usual octave of the instrument is kept unless more than a twentieth of the playing
  time leaves the level's comfortable range, or any note the instrument's own range; then
  the nearest octave without that fault is taken, or failing one the least uncomfortable,
  if it is clearly better.
* One octave serves the whole tune. Only where notes still leave the instrument's range is
  a phrase moved by itself, from rest to rest, so that no phrase is broken.

Source: common practice of arrangers; the limits are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.instruments.table import Instrument, Range
from kit.tune.model import Bar, Note
from kit.tune.pitch import Interval, Pitch

__all__ = ["OctaveMove", "Place", "fit_octave", "move_phrases", "outside"]

Place = tuple[int, int]
"""Bar index and position in the bar."""

_TOLERATED_SHARE = Fraction(1, 20)
_CLEARLY_BETTER = Fraction(1, 2)
_PHRASE_REST = Fraction(1, 2)
_REACH = (0, -1, 1, -2, 2, -3, 3)


@dataclass(frozen=True, slots=True)
class OctaveMove:
    """A phrase that is written some octaves from the rest, both ends included."""

    first: Place
    last: Place
    octaves: int


@dataclass(frozen=True, slots=True)
class _Fit:
    beyond: Fraction
    """Playing time outside the instrument's range."""
    uncomfortable: Fraction
    """Playing time outside the comfortable range."""
    strain: Fraction
    """The same, times the semitones."""


def octave(count: int) -> Interval:
    """Give an interval of so many octaves."""
    return Interval(7 * count, 12 * count)


def fit_octave(bars: Sequence[Bar], instrument: Instrument, level: str) -> int:
    """Choose the octaves by which written bars are to be moved to lie well."""
    comfortable = instrument.comfortable_range(level)
    notes = [note for bar in bars for note in bar.notes if note.pitch is not None]
    total = sum((note.duration for note in notes), Fraction(0))
    fits = {
        count: _fit(notes, octave(count), instrument.range_written, comfortable)
        for count in _REACH
    }
    for count in _REACH:
        if not fits[count].beyond and fits[count].uncomfortable <= total * _TOLERATED_SHARE:
            return count
    best = min(_REACH, key=lambda count: (fits[count].beyond, fits[count].strain))
    usual = fits[0]
    if fits[best].beyond < usual.beyond:
        return best
    clear = fits[best].strain < usual.strain * _CLEARLY_BETTER
    return best if clear else 0


def _fit(
    notes: Sequence[Note], interval: Interval, full: Range, comfortable: Range
) -> _Fit:
    beyond = uncomfortable = strain = Fraction(0)
    for note in notes:
        if note.pitch is None:
            continue
        pitch = note.pitch + interval
        excess = comfortable.excess(pitch)
        uncomfortable += note.duration if excess else 0
        strain += note.duration * excess
        pitches = (pitch, *(grace.pitch + interval for grace in note.graces))
        if any(full.excess(each) for each in pitches):
            beyond += note.duration
    return _Fit(beyond, uncomfortable, strain)


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
