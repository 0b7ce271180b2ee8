"""What can be counted in a solo over changes?

Each measure takes notation alone (the solo, the sheet it was made from), so that it serves
for any maker of solos. A *bar rhythm* is where in the bar notes begin; a bar in which none
begins has none. Lengths are quarter notes unless a name says seconds.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.levels.spots import chord_among
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune

Rhythm = tuple[Fraction, ...]
BREATH_S = 0.35
"""A shorter silence is no breath."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A sound in its bar, with the chord under its start."""

    sound: Sound
    index: int
    onset: Fraction
    chord: ChordSymbol | None


def placed(tune: Tune) -> list[Placed]:
    starts, chords = bar_starts(tune), tune.all_chords_in_force()
    found, index = [], 0
    for sound in sounds_of(tune):
        while sound.start >= starts[index + 1]:
            index += 1
        inside = sound.start - starts[index]
        bar = tune.bars[index]
        if bar.pickup:
            inside += bar.meter.bar_length - bar.length
        found.append(Placed(sound, index, inside, chord_among(chords[index], inside)))
    return found


def bar_rhythms(tune: Tune) -> list[Rhythm]:
    """Give the bar rhythm of each bar, silent ones as ()."""
    rows: list[list[Fraction]] = [[] for _ in tune.bars]
    for note in placed(tune):
        rows[note.index].append(note.onset)
    return [tuple(row) for row in rows]


def written_rhythms(tune: Tune) -> list[tuple[object, ...]]:
    """Give each bar as printed: onset, length, and whether it sounds or goes on."""
    return [
        tuple((n.onset, n.duration, n.pitch is None, n.tied) for n in bar.notes)
        for bar in tune.bars
        if any(n.pitch for n in bar.notes)
    ]


def share_of_bag(one: Sequence[object], other: Sequence[object]) -> float:
    """Share of the shorter one's bars that find a like bar in the other, each used once."""
    least = min(len(one), len(other))
    return (Counter(one) & Counter(other)).total() / least if least else 0.0


def share_of_set(one: Sequence[object], other: Sequence[object]) -> float:
    """Share of the different bar rhythms of the one with fewer that the other has too."""
    a, b = set(one), set(other)
    return len(a & b) / min(len(a), len(b)) if a and b else 0.0


def strong_places(bar: Bar) -> tuple[Fraction, ...]:
    """First beat, and where the second group of beats begins, of four beats and more."""
    beats = bar.meter.pulses
    if beats < 4:
        return (Fraction(0),)
    return (Fraction(0), (beats + 1) // 2 * bar.meter.pulse)


def tones(tune: Tune, *, every_beat: bool = False) -> tuple[int, int]:
    """Count notes that begin on strong beats (or on any), and the chord notes of them."""
    total = inside = 0
    for note in placed(tune):
        bar = tune.bars[note.index]
        on = (
            note.onset % bar.meter.pulse == 0
            if every_beat
            else note.onset in strong_places(bar)
        )
        if on and note.chord is not None and note.chord.pitch_classes:
            total += 1
            inside += note.sound.pitch.midi % 12 in note.chord.pitch_classes
    return inside, total


def held(tune: Tune) -> tuple[int, int]:
    """Count strong beats through which something sounds, and where it is a chord note."""
    starts, chords = bar_starts(tune), tune.all_chords_in_force()
    total = inside = 0
    sounds = sounds_of(tune)
    for index, bar in enumerate(tune.bars):
        for onset in strong_places(bar):
            moment = starts[index] + onset
            chord = chord_among(chords[index], onset)
            now = next((s for s in sounds if s.start <= moment < s.end), None)
            if now and chord is not None and chord.pitch_classes:
                total += 1
                inside += now.pitch.midi % 12 in chord.pitch_classes
    return inside, total


def leaps(tune: Tune) -> Counter[str]:
    """Count steps between notes by size, and whether a large one turns back by step."""
    found: Counter[str] = Counter()
    sounds = sounds_of(tune)
    for k, (one, other) in enumerate(pairwise(sounds)):
        size = other.pitch.midi - one.pitch.midi
        found["all"] += 1
        found["repeated"] += size == 0
        found["over an octave"] += abs(size) > 12
        found["over a sixth"] += abs(size) > 9
        if abs(size) > 7 and one.end == other.start and k + 2 < len(sounds):
            back = sounds[k + 2].pitch.midi - other.pitch.midi
            found["large in a phrase"] += 1
            found["answered"] += 0 < -back * (1 if size > 0 else -1) <= 4 or back == 0
    return found


def longest_repeat(tune: Tune) -> int:
    most = run = 1
    for one, other in pairwise(sounds_of(tune)):
        run = run + 1 if one.pitch.midi == other.pitch.midi else 1
        most = max(most, run)
    return most


def longest_breath_s(tune: Tune, qpm: float) -> float:
    longest = 0.0
    begin: Fraction | None = None
    before: Fraction | None = None
    for sound in sounds_of(tune):
        silent = before is None or float(sound.start - before) * 60 / qpm >= BREATH_S
        if begin is None or silent:
            begin = sound.start
        before = sound.end
        longest = max(longest, float(before - begin) * 60 / qpm)
    return longest


def shortest_s(tune: Tune, qpm: float) -> float:
    """Give the quickest succession of two notes."""
    gaps = [float(b.start - a.start) for a, b in pairwise(sounds_of(tune))]
    return min(gaps, default=99.0) * 60 / qpm


def leading(tune: Tune) -> tuple[int, int]:
    """Count short foreign notes (of neither chord nor key), and those led on by step."""
    total = led = 0
    notes = placed(tune)
    for one, other in pairwise(notes):
        key = {name.pitch_class for name in tune.bars[one.index].key.scale}
        chord = one.chord.pitch_classes if one.chord else frozenset()
        if one.sound.pitch.midi % 12 in key | chord:
            continue
        total += 1
        led += 0 < abs(other.sound.pitch.midi - one.sound.pitch.midi) <= 2
    return led, total


def lonely(tune: Tune) -> int:
    """Count short notes with a beat or more of silence on both sides."""
    sounds, count = sounds_of(tune), 0
    pulse = tune.meter.pulse
    for k, sound in enumerate(sounds):
        before = k == 0 or sound.start - sounds[k - 1].end >= pulse
        after = k + 1 == len(sounds) or sounds[k + 1].start - sound.end >= pulse
        count += before and after and sound.duration <= pulse
    return count


def from_tune(solo: Tune, sheet: Tune) -> Iterator[tuple[bool, bool, bool]]:
    """For each bar with notes: is its rhythm a bar's of the tune, inside one, of its cells?

    Of its cells: all distances between the bar's notes are a run of distances of the tune.
    """
    own = [rhythm for rhythm in bar_rhythms(sheet) if rhythm]
    bars, sets = set(own), [set(rhythm) for rhythm in set(own)]
    gaps = [b.start - a.start for a, b in pairwise(sounds_of(sheet))]
    for rhythm in bar_rhythms(solo):
        if not rhythm:
            continue
        steps = [b - a for a, b in pairwise(rhythm)]
        runs = any(gaps[k : k + len(steps)] == steps for k in range(len(gaps)))
        yield rhythm in bars, any(set(rhythm) <= one for one in sets), runs
