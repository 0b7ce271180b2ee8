"""What does the band play, and when exactly?

Conventions
-----------
* A `PartNote` is what a player reads: exact positions in quarter notes from the first
  click of the count-in, before swing and human timing.
* A `NoteEvent` is what sounds: seconds from the first click, MIDI velocity 1 to 127.
* Players: ``melody``, ``bass``, ``chords``, ``drums``; ``count`` plays the count-in and
  ``click`` a metronome under the music. Drum notes are General MIDI percussion keys.

Source: MIDI 1.0 and General MIDI level 1 (MIDI Association).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction

from kit.route.tempo import STEADY, TempoMap
from kit.tune.model import Meter

__all__ = ["PLAYERS", "NoteEvent", "PartNote", "Performance"]

PLAYERS = ("melody", "bass", "chords", "drums", "count", "click")


@dataclass(frozen=True, slots=True)
class PartNote:
    """One note of a part: start and length in quarter notes from the first click."""

    start: Fraction
    duration: Fraction
    midi: int
    velocity: int

    @property
    def end(self) -> Fraction:
        """Where the note stops."""
        return self.start + self.duration


@dataclass(frozen=True, slots=True)
class NoteEvent:
    """One sound: seconds from the first click, MIDI number and velocity.

    Parameters
    ----------
    player : str
        One of `PLAYERS`.
    midi : int
        MIDI number, or percussion key.
    start_s, duration_s : float
        In true seconds.
    velocity : int, 1 to 127
        Of the loudest moment of the sound.
    bends : tuple of (seconds from the onset, semitones from `midi`)
        Empty for a steady pitch.
    swell : tuple of (seconds from the onset, decibels)
        How far the sound stays below its velocity, 0 or less; straight lines between the
        points. Empty for an even sound.
    joined : bool
        Whether it is slurred to the sound before it, without an attack of its own.
    program : int, optional
        General MIDI program, or for drums the kit, of a section that has its own; None
        where the player's own (`Performance.programs`) sounds.
    """

    player: str
    midi: int
    start_s: float
    duration_s: float
    velocity: int
    bends: tuple[tuple[float, float], ...] = ()
    swell: tuple[tuple[float, float], ...] = ()
    joined: bool = False
    program: int | None = None

    @property
    def end_s(self) -> float:
        """When the note is released."""
        return self.start_s + self.duration_s


@dataclass(frozen=True, slots=True)
class Performance:
    """Everything played at one level and tempo.

    Parameters
    ----------
    events : tuple of NoteEvent
        By player, then by start.
    seconds : float
        End of the last bar; the last sounds ring on after it.
    music_start_s : float
        End of the count-in.
    programs : mapping of player to General MIDI program, from 0
        For ``drums``, ``count`` and ``click`` the number of the drum kit.
    tempo_qpm : float
        Quarter notes per minute.
    meter : Meter
        In force at the start.
    tempo_map : TempoMap
        How the tempo runs, for the MIDI file; the events are in true seconds already.
    a4_hz : float
        What the band tunes to.
    """

    events: tuple[NoteEvent, ...]
    seconds: float
    music_start_s: float
    programs: Mapping[str, int] = field(default_factory=dict)
    tempo_qpm: float = 120.0
    meter: Meter = field(default_factory=Meter)
    tempo_map: TempoMap = STEADY
    a4_hz: float = 440.0

    def of(self, player: str) -> tuple[NoteEvent, ...]:
        """Give one player's events in order."""
        return tuple(event for event in self.events if event.player == player)

    def later(self, by_s: float) -> Performance:
        """Move everything later by some seconds; the tempo must be steady."""
        return replace(
            self,
            events=tuple(replace(e, start_s=e.start_s + by_s) for e in self.events),
            seconds=self.seconds + by_s,
            music_start_s=self.music_start_s + by_s,
        )

    def between(self, start_s: float, end_s: float) -> Performance:
        """Cut a stretch out and move its start to 0; sounds held into it are left out.

        Raises
        ------
        ValueError
            If the stretch is empty.
        """
        if not start_s < end_s:
            raise ValueError(f"nothing lies between {start_s} s and {end_s} s")
        # A note may come a little early or late: count it to the beat it belongs to.
        slack_s = 0.04
        events = tuple(
            replace(
                event,
                start_s=max(0.0, event.start_s - start_s),
                duration_s=min(event.duration_s, max(0.05, end_s - event.start_s)),
            )
            for event in self.events
            if start_s - slack_s <= event.start_s < end_s - slack_s
        )
        return Performance(
            events,
            end_s - start_s,
            max(0.0, self.music_start_s - start_s),
            self.programs,
            self.tempo_qpm,
            self.meter,
            a4_hz=self.a4_hz,
        )
