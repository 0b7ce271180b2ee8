"""How is a performance written as a Standard MIDI File?

Format 1: a conductor track with tempo, meter and title, then one track for each player.
Notes on one key never overlap; every note is released; the end-of-track event comes after
the ring-out, because synthesisers stop there. Where the performance slows down, so does the
conductor track, and notes keep their places in the bar. Another tuning than A4 = 440 Hz is
a standing bend of the pitch wheel, which every synthesiser obeys.

A slurred note begins while the one before it still sounds; where the SoundFont has sounds
without an attack (in bank 1, `kit.sound.soundfont`), it is one of those. A sound's swell is
the channel's expression, whose value acts on the amplitude by its square.

A SoundFont lets its sounds die away as its maker liked, often in a third of a second: short
notes are long then, and a tongue is not heard. So the soloist's notes take turns on two
channels, and each is faded on its own as a wind player stops a note, while the next begins.

Source: Standard MIDI Files 1.0 and General MIDI level 1 (MIDI Association); expression:
General MIDI level 2, 40 log (value / 127) decibels (from memory).
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import mido
from mido import Message

from kit.band.events import NoteEvent, Performance
from kit.band.swell import level_at

__all__ = ["CHANNELS", "VOLUME", "to_midi"]

TICKS_PER_QUARTER = 960
VOLUME = 100
# Semitones; General MIDI's own 2 would not hold a fall or a plop.
BEND_RANGE = 12
# Percussion has channel 10, which is 9 from 0 (General MIDI).
CHANNELS = {"melody": 0, "bass": 1, "chords": 2, "drums": 9, "count": 9, "click": 9}
# 64 is the middle, less is left.
# What a note does to its channel must not be heard in the note before it.
_TURNS = {"melody": (0, 3)}
PAN = {"melody": 64, "bass": 60, "chords": 44, "drums": 72, "count": 64, "click": 64}
ROOM = {"melody": 36, "bass": 6, "chords": 30, "drums": 22, "count": 10, "click": 0}
# At one tick: a key is released before it is struck again, and its sound is chosen, bent
# and levelled before it is heard.
_ORDER = {
    "note_off": 0, "control_change": 1, "program_change": 2, "pitchwheel": 3, "note_on": 4,
}  # fmt: skip
_BANK, _EXPRESSION = 0, 11
_SLURRED_BANK = 1
_OVERLAP_S = 0.01
_SWELL_STEP_S = 0.02
"""A swell is drawn in so short steps that none is heard."""
_STOP_DB, _STOP_STEPS, _STOP_STEP_S = -40.0, 6, 0.01
"""How a note is stopped: by so much in so many steps of so many seconds, then silence (our
choice; a tongue stops a note at once, the breath in about a tenth of a second)."""


def to_midi(
    performance: Performance,
    *,
    players: Sequence[str] | None = None,
    leads_s: Mapping[str, Mapping[int, float]] | None = None,
    slurred_leads_s: Mapping[str, Mapping[int, float]] | None = None,
    volumes: Mapping[str, int] | None = None,
    tail_s: float = 3.0,
    title: str = "",
    stops: bool = False,
) -> bytes:
    """Write players of a performance as MIDI.

    Parameters
    ----------
    performance : Performance
        What is played.
    players : sequence of str, optional
        Who is written; everybody but the metronome unless said.
    leads_s : mapping of player to {MIDI number: seconds}, optional
        How much earlier to start a key, to make up for a slow attack of the sound.
    slurred_leads_s : mapping of player to {MIDI number: seconds}, optional
        The same of a player's sounds without an attack, for those who have them in bank 1.
    volumes : mapping of player to 0 to 127, optional
        Channel volume where it is not 100.
    tail_s : float
        Silence after the last bar, for sounds to ring out.
    title : str
        Name of the piece.
    stops : bool
        Whether each note of the soloist is stopped on a channel of its own, as it is to be
        heard; else it has one channel, as other programs like to read it.
    """
    clock = _Clock(performance)
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    if players is None:
        players = [player for player in CHANNELS if player != "click"]
    last = clock.tick(performance.seconds + tail_s)
    song.tracks.append(_conductor(performance, title, clock, last))
    for player in players:
        if performance.of(player):
            song.tracks.append(
                _track(
                    player,
                    performance,
                    clock,
                    last,
                    leads_s=(leads_s or {}).get(player, {}),
                    slurred_leads_s=(slurred_leads_s or {}).get(player),
                    volume=(volumes or {}).get(player, VOLUME),
                    stops=stops,
                )
            )
    content = io.BytesIO()
    song.save(file=content)
    return content.getvalue()


class _Clock:
    """Seconds to ticks; one multiplication where the tempo is steady.

    Tick 0 is the audio's first sample: the silence before the first click is written out.
    """

    def __init__(self, performance: Performance) -> None:
        self._map = performance.tempo_map
        self._tempo_qpm = performance.tempo_qpm
        self._ticks_per_s = performance.tempo_qpm / 60.0 * TICKS_PER_QUARTER

    def tick(self, seconds: float) -> int:
        if not self._map.steps:
            return max(0, round(seconds * self._ticks_per_s))
        quarters = self._map.quarters(seconds, self._tempo_qpm)
        return max(0, round(self.silence_ticks + quarters * TICKS_PER_QUARTER))

    def ticks(self, length_s: float) -> int:
        """Give a length at the performance's own tempo."""
        return round(length_s * self._ticks_per_s)

    @property
    def silence_ticks(self) -> float:
        return self._map.silence * TICKS_PER_QUARTER


def _conductor(
    performance: Performance, title: str, clock: _Clock, last: int
) -> mido.MidiTrack:
    track = mido.MidiTrack()
    if title:
        # Track names are Latin-1 by the standard.
        name = title.encode("latin-1", "replace").decode("latin-1")
        track.append(mido.MetaMessage("track_name", name=name))
    meter = performance.meter
    track.append(_tempo(performance.tempo_qpm))
    track.append(
        mido.MetaMessage(
            "time_signature", numerator=meter.beats, denominator=meter.beat_type
        )
    )
    now = 0
    for position, share in performance.tempo_map.steps:
        tick = round(clock.silence_ticks + float(position) * TICKS_PER_QUARTER)
        track.append(_tempo(performance.tempo_qpm * share, tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(0, last - now)))
    return track


def _tempo(tempo_qpm: float, time: int = 0) -> mido.MetaMessage:
    # The file has three bytes for it.
    micros = min(round(60e6 / tempo_qpm), 0xFFFFFF)
    return mido.MetaMessage("set_tempo", tempo=micros, time=time)


def _track(
    player: str,
    performance: Performance,
    clock: _Clock,
    last: int,
    *,
    leads_s: Mapping[int, float],
    slurred_leads_s: Mapping[int, float] | None,
    volume: int,
    stops: bool,
) -> mido.MidiTrack:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=player))
    program = performance.programs.get(player, 0)
    numbers: Sequence[int] = (CHANNELS[player],)
    if stops:
        numbers = _TURNS.get(player, numbers)
    # On the drum channel a wheel would retune the whole kit.
    tuning = 12 * math.log2(performance.a4_hz / 440.0) if 9 not in numbers else 0.0
    for number in numbers:
        track.extend(_setup(player, number, program, volume))
        if tuning:
            track.append(_wheel(number, tuning))
    channel = _Channel(numbers[0], program, clock, tuning, leads_s, slurred_leads_s)
    rows = _rows(performance.of(player), channel)
    timed = sorted(
        (
            message
            for turn, number in enumerate(numbers)
            for message in _messages(
                rows[turn :: len(numbers)],
                replace(channel, number=number, stops=len(numbers) > 1),
            )
        ),
        key=lambda pair: (pair[0], _ORDER[pair[1].type]),
    )
    now = 0
    for tick, message in timed:
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(now, last) - now))
    return track


def _setup(player: str, channel: int, program: int, volume: int) -> Iterator[Message]:
    yield Message("program_change", channel=channel, program=program)
    # Volume, pan, reverb and chorus.
    controls = [(7, volume), (10, PAN[player]), (91, ROOM[player]), (93, 0)]
    # Registered parameter 0: the range of the pitch wheel, in semitones.
    controls += [(101, 0), (100, 0), (6, BEND_RANGE), (38, 0)]
    for control, value in controls:
        yield Message("control_change", channel=channel, control=control, value=value)


def _wheel(channel: int, semitones: float) -> Message:
    pitch = max(-8192, min(8191, round(semitones / BEND_RANGE * 8192)))
    return Message("pitchwheel", channel=channel, pitch=pitch)


@dataclass(frozen=True, slots=True)
class _Channel:
    """What all notes of a channel share."""

    number: int
    program: int
    clock: _Clock
    tuning: float
    leads_s: Mapping[int, float]
    slurred_leads_s: Mapping[int, float] | None
    stops: bool = False

    def on_tick(self, event: NoteEvent) -> int:
        leads = self.leads_s
        if event.joined and self.slurred_leads_s is not None:
            leads = self.slurred_leads_s
        return self.clock.tick(event.start_s - leads.get(event.midi, 0.0))

    def control(self, number: int, value: int) -> Message:
        return Message("control_change", channel=self.number, control=number, value=value)


_Row = tuple[NoteEvent, int, int]


def _messages(rows: Sequence[_Row], channel: _Channel) -> Iterator[tuple[int, Message]]:
    yield from _sounds_chosen(rows, channel)
    yield from _levels(rows, channel)
    yield from _bends(rows, channel)
    for event, on, off in rows:
        number, key = channel.number, event.midi
        yield on, Message("note_on", channel=number, note=key, velocity=event.velocity)
        yield off, Message("note_off", channel=number, note=key, velocity=0)


def _rows(events: Sequence[NoteEvent], channel: _Channel) -> list[_Row]:
    """Give the notes in order with the ticks at which they begin and end."""
    next_on: dict[int, int] = {}
    after: tuple[NoteEvent, int] | None = None
    rows: list[_Row] = []
    for event in sorted(events, key=lambda event: event.start_s, reverse=True):
        on = channel.on_tick(event)
        off = max(on + 1, channel.clock.tick(event.end_s))
        if after is not None and after[0].joined:
            off = max(off, channel.clock.tick(after[0].start_s + _OVERLAP_S))
        limit = next_on.get(event.midi)
        if limit is not None and limit <= off:
            off = limit
        next_on[event.midi] = on
        if off > on:
            rows.append((event, on, off))
            after = event, on
    return rows[::-1]


def _sounds_chosen(
    rows: Sequence[_Row], channel: _Channel
) -> Iterator[tuple[int, Message]]:
    """Switch between sounds with an attack and without, and to those of a section."""
    bank, program = 0, channel.program
    for event, on, _ in rows:
        slurred = event.joined and channel.slurred_leads_s is not None
        wanted = _SLURRED_BANK if slurred else 0
        own = channel.program if event.program is None else event.program
        if wanted != bank:
            yield on, channel.control(_BANK, wanted)
        if (wanted, own) != (bank, program):
            # What sounds already goes on as it is: the change is for the next note.
            yield on, Message("program_change", channel=channel.number, program=own)
        bank, program = wanted, own


def _levels(rows: Sequence[_Row], channel: _Channel) -> Iterator[tuple[int, Message]]:
    """Draw the swells and the ends of notes; an even sound has its full level again."""
    value = 127
    for (event, on, off), needed in zip(rows, _needed(rows), strict=True):
        drawn = [(on, 127)]
        if event.swell:
            drawn = list(_steps(event, channel.clock, on, min(off, needed)))
        if channel.stops:
            drawn += _stopped(channel.clock, drawn[-1][1], off, needed)
        for tick, level in drawn:
            if level != value:
                value = level
                yield tick, channel.control(_EXPRESSION, value)


def _stopped(
    clock: _Clock, level: int, off: int, needed: float
) -> Iterator[tuple[int, int]]:
    """Give (tick, expression) behind a note's end, until the channel is needed again."""
    for step in range(1, _STOP_STEPS + 1):
        tick = off + clock.ticks(step * _STOP_STEP_S)
        if tick >= needed:
            return
        is_last = step == _STOP_STEPS
        share = 0.0 if is_last else 10 ** (_STOP_DB * step / _STOP_STEPS / 40)
        yield tick, round(level * share)


def _needed(rows: Sequence[_Row]) -> list[float]:
    """Give the tick at which the channel's controls are the next note's.

    That is begun early, to be heard in time.
    """
    return [*(on for _, on, _ in rows[1:]), math.inf][: len(rows)]


def _steps(
    event: NoteEvent, clock: _Clock, on: int, until: float
) -> Iterator[tuple[int, int]]:
    """Give (tick, expression) along a swell."""
    last_s = event.swell[-1][0]
    for step in range(int(last_s / _SWELL_STEP_S) + 1):
        at = step * _SWELL_STEP_S
        place = clock.tick(event.start_s + at) if step else on
        if place <= max(on, until):
            value = 127 * 10 ** (level_at(event.swell, at) / 40)
            yield place, max(1, min(127, round(value)))


def _bends(rows: Sequence[_Row], channel: _Channel) -> Iterator[tuple[int, Message]]:
    """Draw the bends; a plain note after a bent one sets the wheel back."""
    bent = False
    for (event, on, off), needed in zip(rows, _needed(rows), strict=True):
        if bent or event.bends:
            yield on, _wheel(channel.number, channel.tuning)
        bent = bool(event.bends)
        for at, semitones in event.bends:
            place = channel.clock.tick(event.start_s + at)
            if on <= place <= min(off, needed):
                yield place, _wheel(channel.number, semitones + channel.tuning)
