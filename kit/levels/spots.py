"""Where in a tune might an edit go, and what is around it?

Conventions
-----------
* A spot is a sounding note with its neighbours and the chord it stands over; times are
  quarter notes.
* Left out are pick-ups, phrase ends (the last bar of each section) and bars whose printed
  number another bar bears already, since an edit could not address them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from kit.form.sections import Form
from kit.levels.edit import Edit, OptionValue
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Tune
from kit.tune.unfold import playing_order

__all__ = ["Spot", "chord_among", "open_bars", "phrase_ends", "spots", "strong_places"]


@dataclass(frozen=True, slots=True)
class Spot:
    """A note in its surroundings; it starts a phrase if a rest or nothing comes before."""

    index: int
    bar: Bar
    beat: Fraction
    sound: Sound
    before: Sound | None
    after: Sound | None
    chord: ChordSymbol | None
    starts_phrase: bool

    @property
    def onset(self) -> Fraction:
        """Quarter notes from the start of the full bar."""
        return (self.beat - 1) * Fraction(4, self.bar.meter.beat_type)

    @property
    def strong(self) -> bool:
        """Whether it stands on the first beat or in the middle of the bar."""
        return self.onset in strong_places(self.bar)

    @property
    def on_beat(self) -> bool:
        """Whether it stands on a felt beat."""
        return self.onset % self.bar.meter.pulse == 0

    @property
    def room(self) -> Fraction:
        """Time since the note before began; none at the start."""
        return self.sound.start - self.before.start if self.before else Fraction(0)

    @property
    def joined(self) -> bool:
        """Whether the next note follows without a rest."""
        return self.after is not None and self.after.start == self.sound.end

    @property
    def rise(self) -> int:
        """Half steps up from the note before, below zero for down, 0 without one."""
        return self.sound.pitch.midi - self.before.pitch.midi if self.before else 0

    @property
    def leap_on(self) -> int:
        """Half steps up to the next note, below zero for down, 0 without one."""
        return self.after.pitch.midi - self.sound.pitch.midi if self.after else 0

    def edit(self, do: str, **options: OptionValue) -> Edit:
        """Address an edit to this note; ``from_`` stands for ``from``."""
        named = tuple((name.rstrip("_"), value) for name, value in options.items())
        return Edit(self.bar.number, self.beat, do, named)


def strong_places(bar: Bar) -> tuple[Fraction, ...]:
    """Give the places on which the ear rests: the first beat, and the middle of four."""
    return _strong_places(bar.meter)


@cache
def _strong_places(meter: Meter) -> tuple[Fraction, ...]:
    beats = meter.pulses
    # Bars of two or three beats have one strong place only.
    middle = (beats // 2 * meter.pulse,) if beats % 2 == 0 and beats > 2 else ()
    return (Fraction(0), *middle)


def phrase_ends(tune: Tune, form: Form) -> frozenset[int]:
    """Give the indices of the written bars that end a section.

    Parameters
    ----------
    tune : Tune
        As written.
    form : Form
        Sections over the unfolded tune.
    """
    order = playing_order(tune)
    return frozenset(order[section.last] for section in form.sections)


def open_bars(tune: Tune, form: Form) -> frozenset[int]:
    """Give the indices of the bars in which edits may be suggested.

    Left out are pick-ups, the ends of sections, and bars that share their printed number
    with an earlier one: an edit's address would mean that one.

    Parameters
    ----------
    tune : Tune
        As written.
    form : Form
        Sections over the unfolded tune.
    """
    ends = phrase_ends(tune, form)
    first_of: dict[int, int] = {}
    for index, bar in enumerate(tune.bars):
        first_of.setdefault(bar.number, index)
    return frozenset(
        index
        for index, bar in enumerate(tune.bars)
        if not bar.pickup and index not in ends and first_of[bar.number] == index
    )


def spots(tune: Tune, form: Form) -> Iterator[Spot]:
    """Walk over the notes that may be edited, in order.

    Parameters
    ----------
    tune : Tune
        As written.
    form : Form
        Sections over the unfolded tune.

    Yields
    ------
    Spot
        Its beat counts from 1, in the beats of the time signature.
    """
    wanted = open_bars(tune, form)
    starts, sounds = bar_starts(tune), sounds_of(tune)
    chords = tune.all_chords_in_force()
    index = 0
    for place, sound in enumerate(sounds):
        while sound.start >= starts[index + 1]:
            index += 1
        if index not in wanted:
            continue
        bar = tune.bars[index]
        before = sounds[place - 1] if place else None
        yield Spot(
            index,
            bar,
            (sound.start - starts[index]) / Fraction(4, bar.meter.beat_type) + 1,
            sound,
            before,
            sounds[place + 1] if place + 1 < len(sounds) else None,
            chord_among(chords[index], sound.start - starts[index]),
            starts_phrase=before is None or sound.start - before.end >= Fraction(1, 2),
        )


def chord_among(events: Iterable[ChordEvent], onset: Fraction) -> ChordSymbol | None:
    """Give the chord in force at a place of a bar, of all the chords in force there."""
    found = None
    for event in events:
        if event.onset <= onset:
            found = event.symbol
    return found
