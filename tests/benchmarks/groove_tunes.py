"""Tunes by seeds, in any meter and key, to hear what the band does with them.

Progressions are functional ones by bar, some bars with two chords; melodies move mostly by
step over them, with rests. Forms are of eight and sixteen bars, with repeats, and of odd
phrases (five, seven, nine bars), played with an intro or a tag now and then. Even seeds are
for tuning, odd ones for judging.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from random import Random

from kit.form.sections import Form, Section
from kit.route.plan import INTROS, Passage, Route, Tag, plan_route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import Key, Pitch

KEYS = ("C major", "F major", "Bb major", "Eb major", "G major", "D major", "A minor",
        "D minor", "G minor", "E minor", "C minor", "A major")  # fmt: skip
SHAPES = ((8,), (8, 8), (4, 4), (8, 8), (5, 7), (9, 7), (8, 7))
_ROOTS = {
    "major": (1, 6, 2, 5, 4, 3), "minor": (1, 4, 5, 6, 7),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Subject:
    """A tune with its route."""

    name: str
    tune: Tune
    route: Route


def subject(seed: int, meter: str, *, jazzy: bool) -> Subject:
    """Make a tune; the same for the same arguments."""
    rng = Random(f"groove {seed} {meter}")
    key = Key.parse(rng.choice(KEYS))
    shape = SHAPES[(seed // 2) % len(SHAPES)]
    parsed = Meter.parse(meter)
    bars: list[Bar] = []
    walk = rng.randrange(3, 8)
    for section, size in enumerate(shape):
        for place in range(size):
            last = section == len(shape) - 1 and place == size - 1
            degrees = _degrees(rng, key, last=last, first=place == 0)
            halves = parsed.pulses in (2, 4) and not last and rng.random() < 0.25
            chords = [ChordEvent(Fraction(0), _chord(key, degrees[0], jazzy))]
            if halves and degrees[1] != degrees[0]:
                chords.append(
                    ChordEvent(parsed.bar_length / 2, _chord(key, degrees[1], jazzy))
                )
            notes, walk = _melody(rng, parsed, key, walk, last=last)
            bars.append(Bar(len(bars) + 1, notes, tuple(chords), meter=parsed, key=key))
    tune = Tune(f"groove {seed}", tuple(bars))
    return Subject(f"{meter} {key} {shape} {seed}", tune, _route(rng, tune, shape))


def _degrees(rng: Random, key: Key, *, last: bool, first: bool) -> tuple[int, int]:
    if last:
        return 1, 1
    roots = _ROOTS["minor" if key.is_minor else "major"]
    one = rng.choice((1, 1, *roots)) if first else rng.choice(roots)
    return one, rng.choice(roots)


def _chord(key: Key, degree: int, jazzy: bool) -> ChordSymbol:
    names = key.scale
    root = names[degree - 1]
    third, fifth = names[(degree + 1) % 7], names[(degree + 3) % 7]
    minor = (third.pitch_class - root.pitch_class) % 12 == 3
    flat = (fifth.pitch_class - root.pitch_class) % 12 == 6
    if degree == 5:
        return ChordSymbol(root, "dominant")
    if flat:
        return ChordSymbol(root, "half-diminished" if jazzy else "diminished")
    if not jazzy:
        return ChordSymbol(root, "minor" if minor else "major")
    return ChordSymbol(root, "minor-seventh" if minor else "major-seventh")


def _melody(
    rng: Random, meter: Meter, key: Key, walk: int, *, last: bool
) -> tuple[tuple[Note, ...], int]:
    full, beat = meter.bar_length, meter.pulse
    parts = 3 if meter.is_compound else 2
    unit = beat / parts
    notes: list[Note] = []
    at = Fraction(0)
    while at < full:
        sizes = (1, 2, 2, 3, 4) if not last else (parts * meter.pulses,)
        length = min(rng.choice(sizes) * unit, full - at)
        walk = max(0, min(10, walk + rng.choice((-2, -1, -1, 1, 1, 2))))
        name = key.scale[walk % 7]
        # From the fourth octave up, as most heads lie.
        pitch = Pitch(name.step, name.alter, 4 + walk // 7)
        rest = rng.random() < 0.15 and not last
        notes.append(Note(at, length, None if rest else pitch))
        at += length
    return tuple(notes), walk


def _route(rng: Random, tune: Tune, shape: tuple[int, ...]) -> Route:
    sections, first = [], 0
    for place, size in enumerate(shape):
        sections.append(Section("AB"[place % 2], first, first + size - 1))
        first += size
    form = Form(tuple(sections))
    tag = Tag(2, 3) if rng.random() < 0.3 else None
    intro = rng.choice(("", "", *INTROS))
    if intro == "last-four-bars" and sum(shape) < 8:
        intro = ""
    passages = [Passage("head"), Passage("solo"), Passage("head", tag=tag)]
    return plan_route(
        passages, form=form, head=tune, order=range(len(tune.bars)), intro=intro
    )
