"""In which bars does a section that returns differ from its first time, and how?

Conventions: bars are compared as heard (onset, duration, pitch, chord); marks, graces and
words do not count. Bars are named by their printed numbers.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kit.form._likeness import (
    Likenesses,
    bar_contents,
    best_shift,
    sections_to_compare,
)
from kit.form.harmony import changes
from kit.form.sections import Form, Section
from kit.tune.model import Bar, Tune

__all__ = [
    "BarDifference",
    "MovedSection",
    "SharedEnding",
    "bar_keys",
    "differences",
    "moved_sections",
    "shared_endings",
]

_MOVED = 0.8
_ONLY_MOVED = 0.999
_MOST_NAMED = 8
"""Bars of more notes are not spelled out in a sentence."""


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


class SharedEnding(NamedTuple):
    """Two labels that end with the same bars, both by printed numbers."""

    label: str
    numbers: tuple[int, ...]
    model: str
    model_numbers: tuple[int, ...]


def bar_keys(played: Tune) -> tuple[tuple[object, ...], ...]:
    """Give, bar by bar, what makes one the same as another: notes and chords in force."""
    return tuple(
        (
            tuple(
                (n.onset, n.duration, n.pitch.midi if n.pitch else None) for n in bar.notes
            ),
            tuple((c.onset, str(c.symbol)) for c in chords),
        )
        for bar, chords in zip(played.bars, played.all_chords_in_force(), strict=True)
    )


def differences(played: Tune, form: Form) -> tuple[BarDifference, ...]:
    """Compare every returning section with the first one of its label.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.

    Returns
    -------
    tuple of BarDifference
        One for each bar that is not as it was, in the order of the form.
    """
    found: list[BarDifference] = []
    first_of: dict[str, Section] = {}
    keys = bar_keys(played)
    steps = {item.section: item.semitones for item in moved_sections(played, form)}
    likenesses = Likenesses(bar_contents(played))
    for place, section in enumerate(form.sections):
        model = first_of.setdefault(section.label, section)
        if model is section:
            continue
        models = _full_bars(played, model)
        step = steps.get(place, 0)
        for offset, index in enumerate(_full_bars(played, section)):
            other = models[offset] if offset < len(models) else None
            if other is not None:
                if keys[index] == keys[other]:
                    continue
                # What is only moved with its section is told once, of the section.
                if step and likenesses.bars(other, index, shift=step) >= _ONLY_MOVED:
                    continue
            number = played.bars[index].number
            words = _words(played, index, other)
            if step and other is not None:
                # Its notes cannot be set against those of another key.
                words = "is varied as well"
            found.append(BarDifference(place, index, number, other, words))
    return tuple(found)


def _full_bars(played: Tune, section: Section) -> list[int]:
    return [
        index
        for index in range(section.first, section.last + 1)
        if not played.bars[index].pickup
    ]


def _words(played: Tune, index: int, model: int | None) -> str:
    """Say what the bar does, as a clause that follows ``bar 16``."""
    if model is None:
        return "is added"
    here, there = played.bars[index], played.bars[model]
    chords = _chord_words(played, index, model)
    if _rhythm(here) == _rhythm(there) and _pitches(here) == _pitches(there):
        return chords or "has its chords at other moments"
    melody = _melody_words(here, there)
    if not chords:
        return melody
    shared = "has " if melody.startswith("has ") else ""
    return f"{melody}, and {chords.removeprefix(shared)}"


def _chord_words(played: Tune, index: int, model: int) -> str:
    here, there = _chords(played, index), _chords(played, model)
    return (
        ""
        if here == there
        else f"has {here or 'no chord'} instead of {there or 'no chord'}"
    )


def _rhythm(bar: Bar) -> list[tuple[object, object]]:
    return [(note.onset, note.duration) for note in bar.notes if note.pitch]


def _pitches(bar: Bar) -> list[int]:
    return [note.pitch.midi for note in bar.notes if note.pitch]


def _chords(played: Tune, index: int) -> str:
    return " ".join(str(change.symbol) for change in changes(played, index, index))


def _melody_words(here: Bar, there: Bar) -> str:
    if not _pitches(here):
        return "is silent"
    if not _pitches(there):
        return f"has {_names(_named(here))} where the first time is silent"
    if _pitches(here) == _pitches(there):
        return "has the same notes in another rhythm"
    if _named(here) == _named(there):
        return _octave_words(_pitches(here), _pitches(there))
    return _changed_words(_named(here), _named(there))


def _octave_words(here: list[int], there: list[int]) -> str:
    apart = {a - b for a, b in zip(here, there, strict=True)}
    if apart in ({12}, {-12}):
        return f"is an octave {'higher' if apart.pop() > 0 else 'lower'}"
    return "has some of its notes in another octave"


def _changed_words(here: list[str], there: list[str]) -> str:
    """Name only the notes that differ: ``ends G B instead of D G``."""
    # One short of all, so that there is a note to name on either side.
    shared = min(len(here), len(there)) - 1
    head = next((k for k in range(shared) if here[k] != there[k]), shared)
    tail = next((k for k in range(shared) if here[-1 - k] != there[-1 - k]), shared)
    if head >= tail and head:
        return f"ends {_names(here[head:])} instead of {_names(there[head:])}"
    if tail:
        one, other = here[: len(here) - tail], there[: len(there) - tail]
        return f"begins {_names(one)} instead of {_names(other)}"
    if max(len(here), len(there)) > _MOST_NAMED:
        return "has another melody"
    return f"goes {_names(here)} instead of {_names(there)}"


def _named(bar: Bar) -> list[str]:
    return [str(note.pitch.name) for note in bar.notes if note.pitch]


def _names(notes: list[str]) -> str:
    return " ".join(notes)


def moved_sections(played: Tune, form: Form) -> tuple[MovedSection, ...]:
    """Find sections that are an earlier one, transposed.

    A label of its own is looked at once, the first time; a label that returns may come back
    in another key, as a last round does that is lifted by a half step.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.

    Returns
    -------
    tuple of MovedSection
        Of a new label moved from the earliest section that it is like, of one that returns
        from its first time.
    """
    every = bar_contents(played)
    likenesses = Likenesses(every)
    spans = [(section.first, section.last + 1) for section in form.sections]
    found: list[MovedSection] = []
    seen: dict[str, int] = {}
    for place, section in enumerate(form.sections):
        first = seen.setdefault(section.label, place)
        here = spans[place]
        for model in sections_to_compare(place) if first == place else (first,):
            there = spans[model]
            if there[1] - there[0] != here[1] - here[0]:
                continue
            shift = best_shift(every[slice(*there)], every[slice(*here)])
            if not shift:
                continue
            alike = likenesses.stretches(there, here, shift=shift, at_least=_MOVED)
            # A section that returns is moved only if that is what makes it like the first.
            as_it_is = likenesses.stretches(there, here) if first != place else 0.0
            if alike >= _MOVED and alike > as_it_is:
                found.append(MovedSection(place, model, shift))
                break
    return tuple(found)


def shared_endings(played: Tune, form: Form) -> tuple[SharedEnding, ...]:
    """Find labels whose first sections end with the same two bars or more.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.

    Returns
    -------
    tuple of SharedEnding
        One for each pair of labels, the bars by their printed numbers; a section that is
        the end of another as a whole is none.
    """
    first_of: dict[str, Section] = {}
    for section in form.sections:
        first_of.setdefault(section.label, section)
    sections = tuple(first_of.values())
    bars = [_full_bars(played, section) for section in sections]
    keys = bar_keys(played)
    alike: dict[object, list[int]] = defaultdict(list)
    for place, full in enumerate(bars):
        # Only sections that end with the same two bars are worth comparing.
        alike[tuple(keys[index] for index in full[-2:])].append(place)
    found = []
    for model, other in sorted(p for places in alike.values() for p in _pairs(places)):
        there, here = bars[model], bars[other]
        shared = 0
        for one, two in zip(reversed(there), reversed(here), strict=False):
            if keys[one] != keys[two]:
                break
            shared += 1
        if 2 <= shared < min(len(there), len(here)):
            numbers, before = (
                tuple(played.bars[k].number for k in full[-shared:])
                for full in (here, there)
            )
            labels = sections[other].label, sections[model].label
            found.append(SharedEnding(labels[0], numbers, labels[1], before))
    return tuple(found)


def _pairs(places: Sequence[int]) -> Iterator[tuple[int, int]]:
    """Pair each place with those it is compared with."""
    for count, other in enumerate(places):
        for model in sections_to_compare(count):
            yield places[model], other
