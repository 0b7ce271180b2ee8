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
* Where a phrase fits in no octave, a passage of it changes its octave (`passages`).

Source: common practice of arrangers; the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.instruments._passages import Placed, fold_row
from kit.instruments.table import Instrument, Range
from kit.tune.model import Bar, Note
from kit.tune.pitch import Interval, Pitch

__all__ = [
    "NotePlace",
    "OctaveMove",
    "folded_passages",
    "lightest_octave",
    "move_phrases",
    "octave",
    "octave_burdens",
    "outside",
    "rows",
]

NotePlace = tuple[int, int]
"""Bar index and position in the bar."""

_BEYOND_WEIGHT = 100
_STRAIN_WEIGHT = 8
_UNUSUAL_BURDEN = 2
_PHRASE_REST = Fraction(1, 2)
# Near before far and down before up: `min` takes the first of equals.
_REACH = (0, -1, 1, -2, 2, -3, 3)


@dataclass(frozen=True, slots=True)
class OctaveMove:
    """Notes that are written some octaves from the rest, both ends included.

    They are a whole phrase, or a passage of one that fits in no single octave.
    """

    first: NotePlace
    last: NotePlace
    octaves: int
    is_phrase: bool = True


def octave(count: int) -> Interval:
    """Give an interval of so many octaves."""
    return Interval(7 * count, 12 * count)


def octave_burdens(
    bars: Sequence[Bar], instrument: Instrument, level: str
) -> dict[int, Fraction]:
    """Give the burden of each octave by which written bars may be moved."""
    comfortable = instrument.comfortable_range(level)
    times = _times(bars)
    return {
        count: _burden(times, 12 * count, instrument.range_written, comfortable)
        + _UNUSUAL_BURDEN * abs(count)
        for count in _REACH
    }


def lightest_octave(burdens: Sequence[Mapping[int, Fraction]]) -> int:
    """Choose the octave that is the least burden to all, the usual one if in doubt."""
    return min(_REACH, key=lambda count: sum(burden[count] for burden in burdens))


_Span = tuple[int, int, int]
"""MIDI numbers of a note, and of the lowest and the highest of it and its grace notes."""


def _times(bars: Sequence[Bar]) -> dict[_Span, Fraction]:
    """Add up how long each pitch sounds: few pitches stand for many notes."""
    times: dict[_Span, Fraction] = {}
    for bar in bars:
        for note in bar.notes:
            if note.pitch is not None:
                midi = note.pitch.midi
                sounding = (midi, *(grace.pitch.midi for grace in note.graces))
                span = (midi, min(sounding), max(sounding))
                times[span] = times.get(span, Fraction(0)) + note.duration
    return times


def _burden(
    times: Mapping[_Span, Fraction], semitones: int, full: Range, comfortable: Range
) -> Fraction:
    total = sum(times.values())
    if not total:
        return Fraction(0)
    # Move the ends of the ranges instead of every note.
    low, high = comfortable.low.midi - semitones, comfortable.high.midi - semitones
    lowest, highest = full.low.midi - semitones, full.high.midi - semitones
    beyond = strain = weighted = Fraction(0)
    for (midi, bottom, top), time in times.items():
        weighted += time * midi
        # Grace notes pass by: they count only where the instrument has no such note.
        strain += time * max(low - midi, midi - high, 0)
        if bottom < lowest or top > highest:
            beyond += time
    return (
        (_BEYOND_WEIGHT * beyond + _STRAIN_WEIGHT * strain) / total
        + abs(weighted / total - Fraction(low + high, 2))
    )  # fmt: skip


def move_phrases(bars: Sequence[Bar], full: Range) -> tuple[OctaveMove, ...]:
    """Find what leaves a range, and the octaves in which it fits.

    Neighbouring phrases are moved each by itself; of a phrase that fits in no octave, only
    passages.
    """
    moves: list[OctaveMove] = []
    for row in rows(bars):
        pitches = [pitch for placed in row for pitch in placed.pitches]
        if not any(full.excess(pitch) for pitch in pitches):
            continue
        fitting = (
            count
            # Without 0: where the phrase is now it does not fit.
            for count in _REACH[1:]
            if not any(full.excess(pitch + octave(count)) for pitch in pitches)
        )
        whole = next(fitting, None)
        if whole is not None:
            ends = [(placed.bar, placed.position) for placed in (row[0], row[-1])]
            moves.append(OctaveMove(ends[0], ends[1], whole))
        else:
            moves.extend(folded_passages(row, full))
    return tuple(moves)


def folded_passages(
    row: Sequence[Placed], within: Range, reach: Sequence[int] = _REACH
) -> tuple[OctaveMove, ...]:
    """Give the passages of a phrase that change their octave to come into a range."""
    moves: list[OctaveMove] = []
    before = 0
    for placed, count in zip(row, fold_row(row, within, reach), strict=True):
        place = (placed.bar, placed.position)
        if count and count == before:
            moves[-1] = replace(moves[-1], last=place)
        elif count:
            moves.append(OctaveMove(place, place, count, is_phrase=False))
        before = count
    return tuple(moves)


def outside(bars: Sequence[Bar], within: Range) -> tuple[NotePlace, ...]:
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


def rows(bars: Sequence[Bar]) -> Iterator[list[Placed]]:
    """Yield the notes of each phrase, which rests part."""
    phrase: list[Placed] = []
    silence = Fraction(0)
    held: Pitch | None = None
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            if note.is_rest:
                silence += note.duration
                held = None
                continue
            if silence >= _PHRASE_REST and phrase:
                yield phrase
                phrase = []
            silence = Fraction(0)
            is_held = held is not None and held == note.pitch
            phrase.append(Placed(index, position, note, is_held))
            held = note.pitch if note.tied else None
    if phrase:
        yield phrase
