"""What is an edit, and how does it find its note and read its options?

Conventions
-----------
* An edit names a printed bar (a pick-up is 0), a beat counted from 1 in the beats of the
  time signature (``2.5`` is the "and" of 2), what to `do`, and options.
* A pick-up's beats are those of the full bar it stands for: one quarter before the bar
  line in 4/4 is beat 4.
* The address is read in the music as it stands when the edit's turn comes.
* An edit that the music does not allow is refused with a `LevelError`, never bent.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from kit.errors import LevelError
from kit.levels._music import Music
from kit.levels._window import Ground
from kit.levels.rewrite import Sound, rewritten
from kit.levels.values import beat_words, read_value
from kit.tune.model import Bar, Tune

__all__ = ["Edit", "Operation", "Option", "OptionValue", "Site", "place_of"]

OptionValue = str | int


@dataclass(frozen=True, slots=True)
class Edit:
    """One change to a melody or its changes."""

    bar: int
    beat: Fraction
    do: str
    options: tuple[tuple[str, OptionValue], ...] = ()

    def option(self, name: str) -> OptionValue | None:
        """Give an option's value, None where it is not set."""
        return dict(self.options).get(name)

    def __str__(self) -> str:
        """Say it: ``bar 2, beat 3: early (by eighth)``."""
        options = ", ".join(f"{name} {value}" for name, value in self.options)
        return f"bar {self.bar}, {beat_words(self.beat)}: {self.do}" + (
            f" ({options})" if options else ""
        )


@dataclass(frozen=True, slots=True)
class Option:
    """What an operation's option may hold and what it is when left out.

    Parameters
    ----------
    kind : "value", "choice", "count" or "text"
        A note value, one of `choices`, a whole number within `bounds`, or free text.
    default : str, int or None
        None means that the option must be given.
    """

    kind: Literal["value", "choice", "count", "text"]
    default: OptionValue | None = None
    choices: tuple[str, ...] = ()
    bounds: tuple[int, int] = (1, 64)

    def problem(self, value: OptionValue) -> str | None:
        """Say why a value will not do, None if it will."""
        if self.kind == "count":
            low, high = self.bounds
            # true is an int in Python, and no count.
            if not isinstance(value, int) or isinstance(value, bool):
                return f"{value!r} is not a whole number"
            return None if low <= value <= high else f"{value} is not from {low} to {high}"
        if not isinstance(value, str):
            return f"{value!r} is not text in quotes"
        if self.kind == "choice" and value not in self.choices:
            return f"{value!r} is not one of {', '.join(self.choices)}"
        if self.kind == "value":
            try:
                read_value(value)
            except ValueError as error:
                return str(error)
        return None


@dataclass(frozen=True, slots=True)
class Operation:
    """A kind of edit: its name in a level file, what it does in words, its options."""

    name: str
    words: str
    apply: Callable[[Site], Tune]
    options: Mapping[str, Option] = field(default_factory=dict)
    needs_note: bool = True


@dataclass(frozen=True, slots=True)
class Site:
    """The place in a tune at which an edit works, with the edit's options at hand.

    `at` is in quarter notes from the start of the music, `index` the bar.
    """

    music: Music
    edit: Edit
    options: Mapping[str, Option]
    index: int
    at: Fraction

    @property
    def tune(self) -> Tune:
        """The bars to work on: the whole tune, or a window of it."""
        return self.music.tune

    @property
    def sounds(self) -> tuple[Sound, ...]:
        """Their sounds."""
        return self.music.sounds

    @property
    def bar(self) -> Bar:
        """The bar at the address."""
        return self.tune.bars[self.index]

    @property
    def bar_start(self) -> Fraction:
        """Where that bar begins."""
        return self.music.starts[self.index]

    @property
    def place(self) -> int:
        """The place among the sounds of the one that starts here.

        Raises
        ------
        LevelError
            If no note starts here.
        """
        # The exact moment: an edit that took the nearest note would change another one
        # than the teacher meant as soon as an earlier edit has moved it.
        for place, sound in enumerate(self.sounds):
            if sound.start == self.at:
                return place
        raise self.refuse(f"no note starts on {beat_words(self.edit.beat)}", self._beats())

    def _beats(self) -> str:
        start = self.bar_start
        here = [
            self.beat_of(sound.start)
            for sound in self.sounds
            if start <= sound.start < start + self.bar.length
        ]
        if not here:
            return "the bar has no notes of its own; choose another"
        return f"notes start on beat {', '.join(beat_words(b)[5:] for b in here)}"

    def beat_of(self, moment: Fraction) -> Fraction:
        """Give a moment in this bar as a beat, counted from 1."""
        onset = moment - self.bar_start + _lead_in(self.bar)
        return onset / Fraction(4, self.bar.meter.beat_type) + 1

    @property
    def sound(self) -> Sound:
        """The sound that starts here."""
        return self.sounds[self.place]

    @property
    def before(self) -> Sound | None:
        """The last sound that starts earlier, if any."""
        earlier = [sound for sound in self.sounds if sound.start < self.at]
        return earlier[-1] if earlier else None

    @property
    def after(self) -> Sound | None:
        """The first sound that starts later, if any."""
        return next((sound for sound in self.sounds if sound.start > self.at), None)

    @property
    def end(self) -> Fraction:
        """Where the tune ends."""
        return self.music.starts[-1]

    def text(self, name: str) -> str:
        """Give an option as text."""
        value = self.edit.option(name)
        if value is None:
            value = self.options[name].default
        if value is None:
            raise self.refuse(f'"{self.edit.do}" needs "{name}"', f"add {name} to the edit")
        return str(value)

    def length(self, name: str = "by") -> Fraction:
        """Give an option that is a note value, in quarter notes."""
        return read_value(self.text(name))

    def count(self, name: str) -> int:
        """Give an option that is a whole number."""
        return int(self.text(name))

    def refuse(self, found: str, remedy: str | None = None) -> LevelError:
        """Make the error that says why the music does not allow the edit."""
        return LevelError(found, bar=self.edit.bar, remedy=remedy)

    def require_way_back(self, moment: Fraction) -> None:
        """Refuse to reach back over a bar line that is not always crossed in playing.

        Raises
        ------
        LevelError
            At the start of the tune, a repeat, an ending or a jump.
        """
        if moment < 0:
            raise self.refuse("there is no bar before this one to start in")
        starts = self.music.starts
        for index in range(self.index, 0, -1):
            if moment >= starts[index]:
                return
            here, back = self.tune.bars[index], self.tune.bars[index - 1]
            acting = [jump for jump in back.jumps if jump not in ("segno", "coda")]
            landing = [jump for jump in here.jumps if jump in ("segno", "coda")]
            if (
                here.repeat_start
                or back.repeat_times
                or here.endings != back.endings
                or acting
                or landing
            ):
                raise self.refuse(
                    "a note cannot start before a repeat, an ending or a jump sign",
                    "write this level's repeats out first, or choose another note",
                )

    def rewritten(self, sounds: list[Sound]) -> Tune:
        """Write the tune with other sounds.

        Raises
        ------
        LevelError
            If the new rhythm has no notation.
        """
        ordered = sorted(sounds, key=lambda sound: sound.start)
        try:
            return rewritten(self.tune, self.music.starts, self.sounds, ordered)
        except ValueError as error:
            raise self.refuse(
                f'"{self.edit.do}" would leave a rhythm that cannot be written ({error})',
                "choose another value or place",
            ) from error


def place_of(tune: Tune, ground: Ground, edit: Edit) -> tuple[int, Fraction]:
    """Look an edit's address up: a bar's index, and quarter notes from the tune's start.

    Raises
    ------
    LevelError
        If there is no such bar or beat.
    """
    indices = ground.indices_of(edit.bar)
    if not indices:
        last = max(bar.number for bar in tune.bars)
        raise LevelError(
            f"there is no bar {edit.bar}",
            remedy=f"the last bar is {last}" if edit.bar > last else None,
        )
    for index in indices:
        bar = tune.bars[index]
        onset = (edit.beat - 1) * Fraction(4, bar.meter.beat_type) - _lead_in(bar)
        if 0 <= onset < bar.length:
            return index, ground.starts[index] + onset
    raise LevelError(
        f"the bar has no {beat_words(edit.beat)}",
        bar=edit.bar,
        remedy=f"count beats from 1 in {tune.bars[indices[0]].meter}",
    )


def _lead_in(bar: Bar) -> Fraction:
    return bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
