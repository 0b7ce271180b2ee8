"""Tunes with changes, in all meters, for measuring what is made over changes.

Traditional melodies come from the ABC collections of music21's corpus. They have no chords,
so each gets plain functional ones of its own: by bar (or half bar) the triad of its scale
that holds most of the melody, with a home at the end. Other tunes are made here, melody and
all, over progressions as every textbook has them, in meters and shapes that folk tunes do
not have: 5/4, 7/8, changing meters, sections of 5, 7 and 9 bars, bars without chord.

Everything follows from names by their hash, so that a set is the same on each machine.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from hashlib import sha256
from random import Random

from corpus_parts import tune_texts

from kit.errors import KitError
from kit.form.find import find_form
from kit.form.sections import Form, Section
from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol
from kit.tune.chord_text import parse_chord
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch
from kit.tune.unfold import unfolded

QUOTAS = {
    "4/4": 14, "C": 8, "C|": 8, "2/4": 12, "3/4": 18, "6/8": 18, "9/8": 6, "3/8": 4,
    "12/8": 2, "5/4": 2, "7/8": 1, "6/4": 3, "3/2": 2,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Subject:
    """A tune to solo over, with its form; `judged` are those not looked at in tuning."""

    name: str
    tune: Tune
    form: Form

    @property
    def judged(self) -> bool:
        return number(self.name) % 2 == 0


def number(name: str) -> int:
    """Give a name's number, the same on every machine."""
    return int.from_bytes(sha256(name.encode()).digest()[:6], "big")


def traditional() -> Iterator[Subject]:
    """Yield traditional melodies in the meters of `QUOTAS`, under plain changes."""
    wanted = dict(QUOTAS)
    texts = sorted(tune_texts(), key=lambda item: number(item[0]))
    for name, text in texts:
        head = re.search(r"(?m)^M: *(\S+)", text)
        meter = head.group(1) if head else ""
        if not wanted.get(meter):
            continue
        try:
            tune = unfolded(read_abc(text, source=name, keep_uneven=True))
        except KitError:
            continue
        full = [bar for bar in tune.bars if not bar.pickup]
        heights = [n.pitch.midi for bar in full for n in bar.notes if n.pitch]
        if not 8 <= len(full) <= 64 or not heights:
            continue
        wanted[meter] -= 1
        tune = with_changes(tune, Random(number(name)))
        yield Subject(name, tune, find_form(tune))


def with_changes(tune: Tune, rng: Random) -> Tune:
    """Set a plain chord under each bar, under some half bars two."""
    halves = tune.meter.pulses == 4 and rng.random() < 0.4
    last = len(tune.bars) - 1
    before: ChordSymbol | None = None
    bars: list[Bar] = []
    for index, bar in enumerate(tune.bars):
        if bar.pickup:
            bars.append(bar)
            continue
        middle = bar.meter.bar_length / 2
        spans = [(Fraction(0), bar.length)]
        if halves and rng.random() < 0.5 and bar.length == bar.meter.bar_length:
            spans = [(Fraction(0), middle), (middle, bar.length)]
        events = []
        for start, end in spans:
            home = index == last and end == bar.length
            chord = _chord(bar, start, end, before, home=home)
            if chord != before:
                events.append(ChordEvent(start, chord))
            before = chord
        bars.append(replace(bar, chords=tuple(events)))
    return replace(tune, bars=tuple(bars))


_LIKED = {1: 0.6, 2: 0.1, 4: 0.4, 5: 0.5, 6: 0.15}


def _chord(
    bar: Bar, start: Fraction, end: Fraction, before: ChordSymbol | None, *, home: bool
) -> ChordSymbol:
    best: tuple[float, ChordSymbol] | None = None
    names = bar.key.scale
    for degree, liking in _LIKED.items():
        if home and degree != 1:
            continue
        root = names[degree - 1]
        third, fifth = names[(degree + 1) % 7], names[(degree + 3) % 7]
        if (fifth.pitch_class - root.pitch_class) % 12 != 7:
            continue
        minor = (third.pitch_class - root.pitch_class) % 12 == 3
        kind = "minor" if minor else "major"
        if degree == 5:
            # A minor key borrows its leading note, as everywhere in common practice.
            kind = "dominant"
        chord = ChordSymbol(root, kind)
        score = liking - 0.2 * (chord == before)
        for note in bar.notes:
            shared = min(note.end, end) - max(note.onset, start)
            if note.pitch and shared > 0 and note.pitch.midi % 12 in chord.pitch_classes:
                score += float(shared / (end - start)) * (2 if note.onset == start else 1)
        if best is None or score > best[0]:
            best = (score, chord)
    return best[1] if best else ChordSymbol(names[0], "major")


MADE: dict[str, tuple[str, str, str, Sequence[int], str]] = {
    # name: key, meter, feel, lengths of sections, chords by bar (+ joins two in a bar)
    "minor blues": (
        "C minor", "4/4", "swing", (12,),
        "Cm7 Fm7 Cm7 Cm7 Fm7 Fm7 Cm7 Cm7 Ab7 G7 Cm7 G7",
    ),
    "major blues": (
        "F major", "4/4", "swing", (12, 12),
        "F7 Bb7 F7 F7 Bb7 Bdim7 F7 D7 Gm7 C7 F7+D7 Gm7+C7 "
        "F7 Bb7 F7 F7 Bb7 Bdim7 F7 D7 Gm7 C7 F7+D7 F7",
    ),
    "rhythm changes with bridge": (
        "Bb major", "4/4", "swing", (8, 8, 8, 8),
        "Bb6+G7 Cm7+F7 Dm7+G7 Cm7+F7 Fm7+Bb7 Eb6+Edim7 Bb6+G7 Cm7+F7 "
        "Bb6+G7 Cm7+F7 Dm7+G7 Cm7+F7 Fm7+Bb7 Eb6+Edim7 Cm7+F7 Bb6 "
        "D7 D7 G7 G7 C7 C7 F7 F7 "
        "Bb6+G7 Cm7+F7 Dm7+G7 Cm7+F7 Fm7+Bb7 Eb6+Edim7 Cm7+F7 Bb6",
    ),
    "ii-V-I in three keys": (
        "G major", "4/4", "bossa", (8, 8),
        "Am7 D7 Gmaj7 Gmaj7 Gm7 C7 Fmaj7 Fmaj7 Fm7 Bb7 Ebmaj7 Ebmaj7 Am7b5 D7 Gm7 D7",
    ),
    "cycle of fifths, minor": (
        "E minor", "4/4", "swing", (8, 8),
        "Em7 Am7 D7 Gmaj7 Cmaj7 F#m7b5 B7 Em7 Em7 Am7 D7 Gmaj7 Cmaj7 F#m7b5 B7 Em6",
    ),
    "two-chord dorian vamp": (
        "D dorian", "4/4", "straight", (8, 8),
        "Dm7 Dm7 G7 G7 Dm7 Dm7 G7 G7 Ebm7 Ebm7 Ab7 Ab7 Dm7 G7 Dm7 Dm7",
    ),
    "turnaround ballad": (
        "Eb major", "4/4", "ballad", (8,),
        "Ebmaj7+Cm7 Fm7+Bb7 Gm7+C7 Fm7+Bb7 Ebmaj7+Eb7 Abmaj7+Abm6 Gm7+C7 Fm7+Bb7",
    ),
    "jazz waltz": (
        "F major", "3/4", "swing", (8, 8),
        "Fmaj7 Gm7 Am7 Gm7 Fmaj7 Bbmaj7 Gm7 C7 Am7 D7 Gm7 C7 Fmaj7 Bb7 Fmaj7 Fmaj7",
    ),
    "minor waltz": (
        "A minor", "3/4", "waltz", (8, 8),
        "Am Am Dm Am E7 E7 Am E7 C G7 C A7 Dm Am E7 Am",
    ),
    "slow waltz": ("D major", "3/4", "", (16,), "D D G D A7 A7 D A7 D D7 G Gm D A7 D D"),
    "jig in two strains": (
        "D major", "6/8", "jig", (8, 8), "D D G A7 D D A7 D Bm Bm G A7 D G A7 D",
    ),
    "minor jig": (
        "E minor", "6/8", "jig", (8, 8), "Em D Em D Em D Bm7 Em G D Em D G D Bm7 Em",
    ),
    "six-eight lullaby": ("G major", "6/8", "", (8,), "G C G D7 G C D7 G"),
    "slip jig": ("G major", "9/8", "", (4, 4), "G C G D7 Em C D7 G"),
    "slow blues in twelve": (
        "G major", "12/8", "", (12,), "G7 C7 G7 G7 C7 C7 G7 E7 Am7 D7 G7 D7",
    ),
    "five-four vamp": (
        "E minor", "5/4", "", (8, 8),
        "Em+Bm7 Em+Bm7 Em+Bm7 Em+Bm7 Cmaj7 Am7 Bm7 Em Am7 D7 Gmaj7 C Am7 Bm7 Em Em",
    ),
    "five-four swing": ("C major", "5/4", "swing", (8,), "C6 Am7 Dm7 G7 Em7 A7 Dm7+G7 C6"),
    "seven-eight dance": (
        "D minor", "7/8", "", (8, 8),
        "Dm C Dm C F C Dm A7 F C Gm A7 Dm C A7 Dm",
    ),
    "seven-four song": ("G major", "7/4", "", (8,), "G C D7 Em C Am D7 G"),
    "five-bar strains": ("A minor", "4/4", "", (5, 5), "Am Dm G7 C E7 F Dm E7 Am Am"),
    "seven-bar strains": (
        "G major", "4/4", "", (7, 7),
        "G C G Em Am D7 G Em C G A7 D7 G G",
    ),
    "nine-bar strains": (
        "F major", "3/4", "", (9, 9), "F C7 F Bb F C7 Dm Gm C7 F Bb F Dm Gm C7 Bb C7 F",
    ),
    "bars without chord": (
        "C major", "4/4", "", (8, 8), "C N.C. F G7 N.C. N.C. Dm7 G7 C - F - N.C. G7 C C",
    ),
    "march in two": (
        "Bb major", "2/4", "march", (8, 8),
        "Bb Bb Eb Bb F7 F7 Bb F7 Eb Bb F7 Bb Eb Bb F7 Bb",
    ),
    "changing meters": (
        "D minor", "4/4 3/4", "", (8, 8),
        "Dm Gm A7 Dm Bb C F A7 Dm Gm C F Bb Gm A7 Dm",
    ),
    "fast swing": (
        "Ab major", "4/4", "fast swing 220", (8, 8),
        "Abmaj7 Fm7 Bbm7 Eb7 Cm7 F7 Bbm7 Eb7 Dbmaj7 Gb7 Abmaj7 F7 Bbm7 Eb7 Ab6 Ab6",
    ),
    "very slow air": (
        "G major", "3/4", "slow 48", (8, 8),
        "G C G D7 Em C D7 G C G Am D7 Em C D7 G",
    ),
    "pick-up song": (
        "D major", "4/4", "pickup", (8, 8),
        "D G D A7 D G A7 D G D A7 D Em A7 D D",
    ),
    "pick-up waltz": (
        "C major", "3/4", "pickup", (8, 8),
        "C F C G7 Am F G7 C F C Dm G7 Am F G7 C",
    ),
    "three-bar phrases": ("G major", "4/4", "", (6, 6), "G C D7 G C D7 Em Am D7 C D7 G"),
}  # fmt: skip


def made() -> Iterator[Subject]:
    """Yield tunes of our own over textbook progressions."""
    for name, (key, meters, feel, lengths, chords) in MADE.items():
        yield _made(name, Key.parse(key), meters.split(), feel, lengths, chords.split())


def _made(
    name: str,
    key: Key,
    meters: list[str],
    feel: str,
    lengths: Sequence[int],
    chords: list[str],
) -> Subject:
    rng = Random(number(name))
    tempo = re.search(r"\d+", feel)
    motifs = {}
    for label in "AB":
        for text in meters:
            meter = Meter.parse(text)
            motifs[label, text] = [_rhythm(meter, feel, rng) for _ in range(3)]
    bars: list[Bar] = []
    sections: list[Section] = []
    line = [rng.randrange(3, 8)]
    if feel == "pickup":
        note = Note(Fraction(0), Fraction(1), _pitch(key, 4))
        bars.append(Bar(0, (note,), (), Meter.parse(meters[0]), key, pickup=True))
    for place, length in enumerate(lengths):
        label = "AABA"[place] if len(lengths) == 4 else "AB"[place % 2]
        sections.append(Section(label, len(bars), len(bars) + length - 1))
        for k in range(length):
            text = meters[len(bars) % len(meters)]
            meter = Meter.parse(text)
            pattern = motifs[label, text][(0, 1, 0, 2)[k % 4]]
            if k == length - 1:
                pattern = [(Fraction(0), meter.bar_length)]
            symbols = chords[sum(lengths[:place]) + k]
            notes = _melody(pattern, symbols, key, line, rng)
            bars.append(
                Bar(
                    len(bars) + (feel != "pickup"),
                    notes,
                    _events(symbols, meter),
                    meter,
                    key,
                )
            )
    tune = Tune(
        name, tuple(bars), feel=feel if "swing" in feel else "",
        tempo_qpm=float(tempo.group()) if tempo else None,
    )  # fmt: skip
    return Subject(name, tune, Form(tuple(sections)))


def _rhythm(meter: Meter, feel: str, rng: Random) -> list[tuple[Fraction, Fraction]]:
    """Make a bar's rhythm by joining and cutting beats."""
    onsets = {Fraction(0)}
    for beat in range(meter.pulses):
        at = beat * meter.pulse
        if rng.random() < 0.7:
            onsets.add(at)
        if rng.random() < 0.4:
            part = (
                rng.choice([2, 1]) * meter.pulse / 3
                if meter.is_compound
                else meter.pulse / 2
            )
            onsets.add(at + part)
            if "swing" in feel and rng.random() < 0.3:
                onsets.discard(at)
    ordered = sorted(onsets)
    ends = [*ordered[1:], meter.bar_length]
    return [(on, end - on) for on, end in zip(ordered, ends, strict=True)]


def _pitch(key: Key, line: int) -> Pitch:
    octave, degree = divmod(line, 7)
    name: NoteName = key.scale[degree]
    tonic = "CDEFGAB".index(key.tonic.step)
    lift = (tonic + degree) // 7
    return Pitch(name.step, name.alter, 4 + octave + lift)


def _melody(
    pattern: Sequence[tuple[Fraction, Fraction]],
    symbols: str,
    key: Key,
    line: list[int],
    rng: Random,
) -> tuple[Note, ...]:
    chord = parse_chord(symbols.split("+", maxsplit=1)[0]) if symbols != "-" else None
    notes = []
    for onset, duration in pattern:
        line[0] = min(9, max(0, line[0] + rng.choice([-2, -1, -1, 0, 1, 1, 2, 3])))
        if onset == 0 and chord and chord.pitch_classes:
            near = sorted(range(0, 10), key=lambda k: (abs(k - line[0]), k))
            inside = chord.pitch_classes
            line[0] = next((k for k in near if _pitch(key, k).midi % 12 in inside), line[0])
        notes.append(Note(onset, duration, _pitch(key, line[0])))
    return tuple(notes)


def _events(symbols: str, meter: Meter) -> tuple[ChordEvent, ...]:
    if symbols == "-":
        return ()
    parts = [parse_chord(text) for text in symbols.split("+")]
    middle = (meter.pulses + 1) // 2 * meter.pulse
    return tuple(ChordEvent(k * middle, symbol) for k, symbol in enumerate(parts))


def subjects() -> list[Subject]:
    """List all tunes to measure with."""
    return [*made(), *traditional()]


if __name__ == "__main__":
    for subject in subjects():
        print(
            "judged" if subject.judged else "tuned ", str(subject.tune.meter).ljust(5),
            len(subject.tune.bars), subject.form.pattern.ljust(8), subject.name,
            subject.tune.title,
        )  # fmt: skip
