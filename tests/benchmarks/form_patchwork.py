"""Make tunes of a known form from folk songs: the half of the form sets that judges.

Nothing is composed here. A section is a run of whole sung lines of one folk song, just as
long as is asked for; the lines are those in which the Essen collection is printed
(music21 ships it; a line is a phrase there). Other sections come from other songs of the
same meter and up-beat, and all are set in C. What comes back is varied as singers do it:
the end of another song, notes made dotted, a long note struck twice, a note left out. Some
have plain chords, chosen by the notes.

One file of the collection, boehme20, was looked at while the weights were set, and is left
out. The tuning half is made by other rules: form_motifs.py. A line may itself be said
twice; such songs are left out, since it is a matter of taste whether they are one section
or two.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path
from random import Random

from form_motifs import KINDS as _KINDS
from form_motifs import KnownForm, is_exact
from music21 import corpus

from kit.errors import KitError
from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch

__all__ = ["FILES", "KINDS", "is_exact", "patchwork_tune"]

KINDS = _KINDS
FILES = (
    "boehme10",
    "erk10",
    "erk20",
    "altdeu20",
    "zuccal0",
    "kinder0",
    "fink0",
)
_METERS = {"4/4", "3/4", "2/4", "6/8"}
_TOKEN = re.compile(r"[_^=]*[A-Ga-gz][,']*(\d*)(/?)(\d*)")
_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_C = Key.parse("C major")

Sound = tuple[Fraction, Fraction, int | None]
"""Onset from the section's start, length, MIDI number (None rests)."""


@dataclass(frozen=True)
class _Lines:
    """Whole lines of one song, so many bars long."""

    song: int
    bars: int
    sounds: tuple[Sound, ...]


Pool = dict[tuple[str, Fraction, str], list[_Lines]]
"""Runs of lines by meter, up-beat and mode."""


@cache
def _pool(files: tuple[str, ...]) -> Pool:
    """Give the runs of lines by meter, up-beat and mode."""
    folder = Path(corpus.__file__).parent / "essenFolksong"
    pool: Pool = {}
    number = 0
    for name in files:
        text = (folder / f"{name}.abc").read_text(encoding="utf-8", errors="replace")
        for song in re.split(r"\n(?=X:)", text):
            number += 1
            try:
                tune = read_abc(song, source=name)
            except KitError:
                continue
            _add(pool, number, song, tune)
    return pool


def _add(pool: Pool, number: int, text: str, tune: Tune) -> None:
    if str(tune.meter) not in _METERS or len({bar.meter for bar in tune.bars}) > 1:
        return
    if any(n.tuplet or n.tied for b in tune.bars for n in b.notes):
        return
    unit = next((line[2:].strip() for line in text.splitlines() if line[:2] == "L:"), "1/8")
    lengths = [_line_length(line) * 4 * Fraction(unit) for line in text.splitlines()
               if not re.match(r"[A-Za-z]:|%|\s*$", line)]  # fmt: skip
    length = tune.meter.bar_length
    lead = tune.bars[0].length if tune.has_pickup else Fraction(0)
    sounds, now = [], -lead
    for bar in tune.bars:
        for note in bar.notes:
            midi = note.pitch.midi - tune.key.tonic.pitch_class if note.pitch else None
            sounds.append((now, note.duration, midi))
            now += note.duration
    if sum(lengths, Fraction(0)) != now + lead:
        return
    starts = [-lead]
    for line in lengths:
        starts.append(starts[-1] + line)
    there = pool.setdefault((str(tune.meter), lead, tune.key.mode), [])
    for place, start in enumerate(starts):
        for end in starts[place + 1 :]:
            bars = (end - start) / length
            if (start + lead) % length == 0 and bars.denominator == 1 and 2 <= bars <= 16:
                run = tuple((o - start, d, m) for o, d, m in sounds if start <= o < end)
                if not _says_itself_twice(run, int(bars), length):
                    there.append(_Lines(number, int(bars), run))


def _line_length(line: str) -> Fraction:
    total = Fraction(0)
    for match in _TOKEN.finditer(line):
        above, slash, below = match.groups()
        total += Fraction(int(above or 1), int(below or 2) if slash else 1)
    return total


def _bars_of(sounds: tuple[Sound, ...], bars: int, length: Fraction) -> list[tuple]:
    return [
        tuple(
            (o - k * length, m) for o, _, m in sounds if k * length <= o < (k + 1) * length
        )
        for k in range(bars)
    ]


def _says_itself_twice(sounds: tuple[Sound, ...], bars: int, length: Fraction) -> bool:
    rows = _bars_of(sounds, bars, length)
    return any(
        sum(rows[k] == rows[k + lag] for k in range(bars - lag))
        >= 0.5 * min(lag, bars - lag)
        for lag in range(2, bars - 1)
    )


def patchwork_tune(kind: str, seed: int, *, files: tuple[str, ...] = FILES) -> KnownForm:
    """Make a tune of a kind, the same for the same seed and the same files of songs."""
    rng = Random(f"patchwork {kind} {seed}")
    while True:
        made = _attempt(kind, rng, _pool(files))
        if made is not None:
            return made


def _attempt(kind: str, rng: Random, pool: Pool) -> KnownForm | None:
    most = max(len(runs) for runs in pool.values())
    meter, lead, mode = rng.choice(
        sorted(place for place in pool if len(pool[place]) >= most / 20)
    )
    length = Meter.parse(meter).bar_length
    there = pool[meter, lead, mode]
    labels = rng.choice(
        ("AABA", "AABB", "ABAC", "AAB", "ABA", "ABCA", "AABC", "ABB", "AABCC")
    )
    sizes = {"odd": (3, 5, 6, 7, 9), "four-bar": (4,), "sixteen": (12, 16)}.get(kind, (8,))
    one = rng.choice(sizes)
    length_of = dict.fromkeys("ABC", one)
    if kind == "two lengths":
        length_of = dict(zip("ABC", rng.sample((4, 5, 6, 7, 8, 9, 10, 12), 3), strict=True))
    elif kind == "four-bar":
        labels = rng.choice(("AABB", "AABB", "AABA", "ABAC"))
    elif kind == "lifted":
        labels = rng.choice(("AABA", "AABA", "AAA", "ABA", "ABAB"))
    first: dict[str, tuple[Sound, ...]] = {}
    for label in sorted(set(labels)):
        choice = [run for run in there if run.bars == length_of[label]]
        if len(choice) < 4:
            return None
        first[label] = rng.choice(choice).sounds
    if _too_like(list(first.values()), length):
        return None
    played: list[tuple[str, int, tuple[Sound, ...]]] = []
    for place, label in enumerate(labels):
        bars = length_of[label]
        again = label in labels[:place] and rng.random() < 0.6
        sounds = (
            _sung_again(rng, first[label], bars, length, there) if again else first[label]
        )
        played.append((label, bars, sounds))
    lifted_from, step = len(played), 0
    if kind == "lifted":
        step = rng.choice((1, 1, 2))
        lifted_from -= 2 if labels == "ABAB" else 1
        for place in range(lifted_from, len(played)):
            label, bars, sounds = played[place]
            lifted = tuple((o, d, None if m is None else m + step) for o, d, m in sounds)
            played[place] = label, bars, lifted
    if kind == "framed":
        _framed(rng, played, there)
    plain = sum(bars for _, bars, _ in played[:lifted_from])
    return _assembled(rng, played, Meter.parse(meter), lead, (plain, step))


def _too_like(sections: list[tuple[Sound, ...]], length: Fraction) -> bool:
    """Whether two of them open with the same bars: then they are not two sections."""
    heads = [_bars_of(sounds, 3, length) for sounds in sections]
    return any(
        sum(x == y for x, y in zip(one, other, strict=True)) > 1
        for k, one in enumerate(heads)
        for other in heads[:k]
    )


def _framed(rng: Random, played: list, there: list[_Lines]) -> None:
    which = rng.choice(("intro", "coda", "both"))
    short = [run for run in there if run.bars in (2, 4)]
    if which != "coda":
        run = rng.choice(short)
        played.insert(0, ("Intro", run.bars, run.sounds))
    if which != "intro":
        run = rng.choice(short)
        played.append(("Coda", run.bars, run.sounds))


def _sung_again(
    rng: Random, sounds: tuple[Sound, ...], bars: int, length: Fraction, there: list[_Lines]
) -> tuple[Sound, ...]:
    if rng.random() < 0.5:
        other = rng.choice([run for run in there if run.bars == bars]).sounds
        cut = (bars - 1) * length
        sounds = (*(s for s in sounds if s[0] < cut), *(s for s in other if s[0] >= cut))
        # A note that would run into the new ending stops before it.
        sounds = tuple((o, min(d, cut - o) if o < cut else d, m) for o, d, m in sounds)
    changed: list[Sound] = []
    how = rng.choice(("dotted", "struck twice", "none", "left out"))
    for sound in sounds:
        onset, duration, midi = sound
        touched = rng.random() < 0.12
        if how == "struck twice" and touched and duration >= 1:
            changed += [
                (onset, duration / 2, midi),
                (onset + duration / 2, duration / 2, midi),
            ]
        elif how == "dotted" and touched and changed and changed[-1][1] == duration:
            before = changed.pop()
            more = duration / 2
            changed += [(before[0], duration + more, before[2]), (onset + more, more, midi)]
        elif how == "left out" and touched and changed and onset % length:
            before = changed.pop()
            changed.append((before[0], before[1] + duration, before[2]))
        else:
            changed.append(sound)
    return tuple(changed)


def _assembled(
    rng: Random, played: list, meter: Meter, lead: Fraction, lift: tuple[int, int]
) -> KnownForm:
    """Write the sections one after another, from full bar `lift[0]` on `lift[1]` higher."""
    length = meter.bar_length
    row: list[Sound] = []
    start = Fraction(0)
    for _, bars, sounds in played:
        row += [(start + onset, duration, midi) for onset, duration, midi in sounds]
        start += bars * length
    shift = (length - lead) % length
    count = sum(bars for _, bars, _ in played)
    cells: list[list[Note]] = [[] for _ in range(count + (lead > 0))]
    for onset, duration, midi in row:
        _lay(cells, onset + shift, duration, midi, length)
    bars = []
    with_chords = rng.random() < 0.4
    for k, cell in enumerate(cells):
        pickup = lead > 0 and k == 0
        notes = [replace(n, onset=n.onset - shift) for n in cell] if pickup else cell
        filled = _full(notes, lead if pickup else length)
        step = lift[1] if k - (lead > 0) >= lift[0] else 0
        chords = _chord(filled, step) if with_chords and not pickup else ()
        bars.append(
            Bar(k + (lead == 0), filled, chords, meter=meter, key=_C, pickup=pickup)
        )
    labels = tuple(label for label, _, _ in played)
    return KnownForm(Tune("", tuple(bars)), labels, tuple(bars for _, bars, _ in played))


def _lay(
    cells: list, onset: Fraction, duration: Fraction, midi: int | None, length: Fraction
) -> None:
    """Write a sound into its bar, tied over if it is longer than the bar has room."""
    while duration > 0:
        place, within = divmod(onset, length)
        if place >= len(cells):
            return
        here = min(duration, length - within)
        pitch = None
        if midi is not None:
            name = NoteName.parse(_NAMES[midi % 12])
            pitch = Pitch(name.step, name.alter, midi // 12 - 1)
        cells[int(place)].append(
            Note(within, here, pitch, tied=bool(pitch) and here < duration)
        )
        onset, duration = onset + here, duration - here


def _full(notes: list[Note], length: Fraction) -> tuple[Note, ...]:
    """Fill a bar that ends early with a rest: the last one lacks the up-beat."""
    end = notes[-1].end if notes else Fraction(0)
    return (*notes, Note(end, length - end, None)) if end < length else tuple(notes)


def _chord(notes: tuple[Note, ...], step: int) -> tuple[ChordEvent, ...]:
    """Choose a chord of the home key; where the music is lifted, it is lifted with it."""
    triads = {"C": {0, 4, 7}, "F": {5, 9, 0}, "G": {7, 11, 2}}
    weight = {
        root: sum(
            float(n.duration)
            for n in notes
            if n.pitch and (n.pitch.midi - step) % 12 in tones
        )
        for root, tones in triads.items()
    }
    root = max(weight, key=weight.__getitem__)
    lifted = NoteName.parse(_NAMES[(_NAMES.index(root) + step) % 12])
    return (ChordEvent(Fraction(0), ChordSymbol(lifted, "major")),)
