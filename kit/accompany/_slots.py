"""Where may the harmony change, and what does the melody say there?

A *slot* is a bar or half a bar: the harmonic rhythm of plain tunes, by meter. Bars of four
beats and of two groups (6/8, 12/8, 6/4) are halved, shorter ones and those of three or of
uneven groups are not.

Conventions
-----------
* Notes are weighted by the share of the slot in which they sound, and by where and how
  they come: on the beat more, in passing less.
* Pitch classes are semitones above the tonic of the slot's key.
* A *strain* is what stands between double bars, repeat signs, endings and section labels.
  A phrase ends with every fourth bar of it, or at the fermatas if it has any.
* Pick-ups have no slot: the chord before them holds on.

Source: common practice; the weights are our own, chosen on tunes marked by ourselves
(``tests/benchmarks/chords_for_tunes.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kit.tune.model import Bar, Meter, Tune
from kit.tune.pitch import Key
from kit.tune.sounding import SoundingNote, sounding

__all__ = ["SlotMusic", "slots_of"]

_PHRASE_BARS = 4
_HALVED_FROM = Fraction(3)
"""A bar of two quarters (2/4) has one chord; the two groups of 6/8 may have two."""

_EVIDENCE = 2.5
_LONGER_SAYS_MORE = 0.3
"""What the notes of a slot weigh together against its place and its neighbours: as much in
a jig's half bar as in a reel's, though that is longer; a little more in a waltz's bar."""
_ON_THE_SLOT = 1.6
_IN_A_HYMN = 3.0
"""Weight of the note at the slot's start. A hymn changes its chord with every beat, so the
first note of a slot speaks for it; the others have chords of their own."""
_ON_A_BEAT = 1.2
_PASSING = 0.6
_LEAPT = 1.15
_STEP = 2
"""Semitones of a whole step."""

_Heard = tuple[Fraction, Fraction, int, float]
"""Onset and end in a bar, MIDI number, and how much the way it comes tells."""


@dataclass(frozen=True, slots=True)
class SlotMusic:
    """A slot with its melody and its place in the form.

    Parameters
    ----------
    bar : int
        Index of its bar in the tune.
    onset, duration : Fraction
        In quarter notes, from the start of the bar.
    key : Key
        In force here.
    notes : tuple of (int, float)
        Pitch class over the tonic, and weight.
    in_mid_bar : bool
        Whether the slot before belongs to the same bar.
    opens, closes_phrase, closes_strain, closes : bool
        Whether it is the first of a strain, the last of a phrase, of a strain, of all.
    closes_half : bool
        Whether it is the last of the first half of a strain.
    """

    bar: int
    onset: Fraction
    duration: Fraction
    key: Key
    notes: tuple[tuple[int, float], ...]
    in_mid_bar: bool = False
    opens: bool = False
    closes_phrase: bool = False
    closes_half: bool = False
    closes_strain: bool = False
    closes: bool = False


def slots_of(tune: Tune) -> tuple[SlotMusic, ...]:
    """Cut a tune into slots, as it is written.

    A tune that is nothing but a pick-up has a slot for it all the same.
    """
    full = [index for index, bar in enumerate(tune.bars) if not bar.pickup]
    heard = _heard(tune)
    strains = list(_strains(tune.bars, full or range(len(tune.bars))))
    found = [slot for strain in strains for slot in _slots(tune, heard, strain)]
    last = found.pop()
    return (*found, _closing(last))


def _closing(last: SlotMusic) -> SlotMusic:
    return SlotMusic(
        last.bar, last.onset, last.duration, last.key, last.notes, last.in_mid_bar,
        last.opens, closes_phrase=True, closes_strain=True, closes=True,
    )  # fmt: skip


def _slots(
    tune: Tune, heard: Sequence[Sequence[_Heard]], strain: Sequence[int]
) -> Iterator[SlotMusic]:
    hymn = any(_is_held(tune.bars[index]) for index in strain[:-1])
    for place, index in enumerate(strain):
        bar = tune.bars[index]
        pieces = _pieces(bar)
        ends_strain = index == strain[-1]
        for start, end in pieces:
            last = end == pieces[-1][1]
            if ends_strain or not hymn:
                ends = last and (ends_strain or (place + 1) % _PHRASE_BARS == 0)
            else:
                ends = _is_held(bar, start, end)
            yield SlotMusic(
                bar=index,
                onset=start,
                duration=end - start,
                key=bar.key,
                notes=_weighted(
                    heard[index], bar, start, end, _IN_A_HYMN if hymn else _ON_THE_SLOT
                ),
                in_mid_bar=start > 0,
                opens=place == 0 and start == 0,
                closes_phrase=ends,
                closes_half=last and 2 * (place + 1) == len(strain),
                closes_strain=last and ends_strain,
            )


def _pieces(bar: Bar) -> list[tuple[Fraction, Fraction]]:
    """Give start and end of the slots of a bar."""
    length, half = bar.length, bar.meter.bar_length / 2
    if _is_halved(bar.meter) and length > half:
        return [(Fraction(0), half), (half, length)]
    return [(Fraction(0), length)]


def _is_halved(meter: Meter) -> bool:
    return meter.pulses % 2 == 0 and meter.bar_length >= _HALVED_FROM


def _is_held(bar: Bar, start: Fraction = Fraction(0), end: Fraction | None = None) -> bool:
    """Say whether a fermata stands there: in hymns it marks the end of a phrase."""
    stop = bar.length if end is None else end
    return any("fermata" in note.marks and start <= note.onset < stop for note in bar.notes)


def _strains(bars: Sequence[Bar], indices: Sequence[int]) -> Iterator[list[int]]:
    """Part the full bars where the notation says that something ends or begins."""
    strain: list[int] = []
    for index in indices:
        # The sign may stand at a pick-up between the two.
        between = bars[strain[-1] : index + 1] if strain else ()
        if any(_parts(before, bar) for before, bar in pairwise(between)):
            yield strain
            strain = []
        strain.append(index)
    yield strain


def _parts(before: Bar, bar: Bar) -> bool:
    return bool(
        before.repeat_times
        or before.barline != "single"
        or bar.repeat_start
        or bar.section
        # A second ending is another way out of the same strain, and ends as it does.
        or (before.endings and bar.endings != before.endings)
    )


def _heard(tune: Tune) -> list[list[_Heard]]:
    """Give for each bar what sounds in it; a note from an earlier bar starts before 0."""
    found: list[list[_Heard]] = [[] for _ in tune.bars]
    sounds = list(sounding(tune.bars))
    for place, sound in enumerate(sounds):
        manner = _manner(sounds, place)
        onset, index = sound.onset, sound.bar
        while index < len(tune.bars) and onset + sound.duration > 0:
            end = onset + sound.duration
            found[index].append((onset, end, sound.pitch.midi, manner))
            onset -= tune.bars[index].length
            index += 1
    return found


def _manner(sounds: Sequence[SoundingNote], place: int) -> float:
    """Weigh a note by how it is reached and left.

    Between two steps it passes or neighbours and need not belong to the chord; a leap to it
    and from it makes an arpeggio.
    """
    if not 0 < place < len(sounds) - 1:
        return 1.0
    here = sounds[place].pitch.midi
    before = abs(here - sounds[place - 1].pitch.midi)
    after = abs(sounds[place + 1].pitch.midi - here)
    if 0 < before <= _STEP and 0 < after <= _STEP:
        return _PASSING
    return _LEAPT if before > _STEP and after > _STEP else 1.0


def _weighted(
    heard: Sequence[_Heard], bar: Bar, start: Fraction, end: Fraction, at_start: float
) -> tuple[tuple[int, float], ...]:
    tonic = bar.key.tonic.pitch_class
    length = float(end - start)
    scale = _EVIDENCE * (length / 2) ** _LONGER_SAYS_MORE / length if length else 0.0
    found = []
    for onset, stop, midi, manner in heard:
        time = float(min(end, stop) - max(start, onset))
        if time <= 0:
            continue
        if onset <= start:
            # What is there when the chord comes is heard against it, however it came.
            weight = at_start
        else:
            on_a_beat = (onset - start) % bar.meter.pulse == 0
            weight = _ON_A_BEAT * manner if on_a_beat else manner
        found.append(((midi - tonic) % 12, scale * time * weight))
    return tuple(found)
