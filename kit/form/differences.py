"""In which bars does a section that returns differ from its first time, and how?

Conventions: bars are compared as heard (onset, duration, pitch, chord); marks, graces and
words do not count. Bars are named by their printed numbers.
"""

from __future__ import annotations

from dataclasses import dataclass

from kit.form.harmony import changes
from kit.form.likeness import bar_contents, best_shift, stretch_likeness
from kit.form.sections import Form, Section
from kit.tune.model import Bar, Tune

__all__ = ["BarDifference", "MovedSection", "bar_key", "differences", "moved_sections"]

_MOVED = 0.8


@dataclass(frozen=True, slots=True)
class BarDifference:
    """One bar of a returning section that is not as it was the first time.

    `section` is the place in `Form.sections`; `bar` and `model` are unfolded indices of
    the bar and of the one it is compared with (None where the section has grown longer).
    """

    section: int
    bar: int
    number: int
    model: int | None
    words: str


@dataclass(frozen=True, slots=True)
class MovedSection:
    """A section that is an earlier one moved by `semitones`, down if negative."""

    section: int
    model: int
    semitones: int


def bar_key(played: Tune, index: int) -> tuple[object, ...]:
    """Give what makes a bar the same as another: its notes and the chords in force."""
    bar = played.bars[index]
    notes = tuple(
        (n.onset, n.duration, n.pitch.midi if n.pitch else None) for n in bar.notes
    )
    chords = tuple((c.onset, str(c.symbol)) for c in played.chords_in_force(index))
    return notes, chords


def differences(played: Tune, form: Form) -> tuple[BarDifference, ...]:
    """Compare every returning section with the first one of its label."""
    found: list[BarDifference] = []
    first_of: dict[str, Section] = {}
    for place, section in enumerate(form.sections):
        model = first_of.setdefault(section.label, section)
        if model is section:
            continue
        models = _full_bars(played, model)
        for offset, index in enumerate(_full_bars(played, section)):
            other = models[offset] if offset < len(models) else None
            if other is not None and bar_key(played, index) == bar_key(played, other):
                continue
            number = played.bars[index].number
            found.append(
                BarDifference(place, index, number, other, _words(played, index, other))
            )
    return tuple(found)


def _full_bars(played: Tune, section: Section) -> list[int]:
    return [
        index
        for index in range(section.first, section.last + 1)
        if not played.bars[index].pickup
    ]


def _words(played: Tune, index: int, model: int | None) -> str:
    if model is None:
        return "is added"
    parts = []
    here, there = played.bars[index], played.bars[model]
    if _rhythm(here) != _rhythm(there) or _pitches(here) != _pitches(there):
        parts.append(_melody_words(here, there))
    chords, model_chords = _chords(played, index), _chords(played, model)
    if chords != model_chords:
        parts.append(f"has {chords or 'no chord'} instead of {model_chords or 'no chord'}")
    elif not parts:
        parts.append("has its chords at other moments")
    return " and ".join(parts)


def _rhythm(bar: Bar) -> list[tuple[object, object]]:
    return [(note.onset, note.duration) for note in bar.notes if note.pitch]


def _pitches(bar: Bar) -> list[int]:
    return [note.pitch.midi for note in bar.notes if note.pitch]


def _chords(played: Tune, index: int) -> str:
    return " ".join(str(change.symbol) for change in changes(played, index, index))


def _melody_words(here: Bar, there: Bar) -> str:
    if not _pitches(here):
        return "is silent"
    if _pitches(here) == _pitches(there):
        return "has the same notes in another rhythm"
    if not _pitches(there):
        return f"has {_names(here)} where the first time is silent"
    if _names(here) == _names(there):
        apart = {a - b for a, b in zip(_pitches(here), _pitches(there), strict=True)}
        if len(apart) == 1 and abs(apart.copy().pop()) == 12:
            return f"is an octave {'higher' if apart.pop() > 0 else 'lower'}"
        return "has the same notes in other octaves"
    return f"goes {_names(here)} instead of {_names(there)}"


def _names(bar: Bar) -> str:
    return " ".join(str(note.pitch.name) for note in bar.notes if note.pitch)


def moved_sections(played: Tune, form: Form) -> tuple[MovedSection, ...]:
    """Find sections with labels of their own that are an earlier one, transposed."""
    every = bar_contents(played)
    found: list[MovedSection] = []
    seen: set[str] = set()
    for place, section in enumerate(form.sections):
        if section.label in seen:
            continue
        here = every[section.first : section.last + 1]
        for model in range(place):
            other = form.sections[model]
            there = every[other.first : other.last + 1]
            shift = best_shift(there, here)
            same_size = len(here) == len(there)
            if shift and same_size and stretch_likeness(there, here, shift=shift) >= _MOVED:
                found.append(MovedSection(place, model, shift))
                break
        seen.add(section.label)
    return tuple(found)
