"""How is a performance written as a Standard MIDI File?

Format 1: a conductor track with tempo, meter and title, then one track for each player.
Notes on one key never overlap; every note is released; the end-of-track event comes after
the ring-out, because synthesisers stop there. Where the performance slows down, so does the
conductor track, and notes keep their places in the bar. Another tuning than A4 = 440 Hz is
a standing bend of the pitch wheel, which every synthesiser obeys.

Source: Standard MIDI Files 1.0 and General MIDI level 1 (MIDI Association).
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping, Sequence

import mido
from mido import Message

from kit.band.events import NoteEvent, Performance

__all__ = ["CHANNELS", "VOLUME", "to_midi"]

TICKS_PER_QUARTER = 960
VOLUME = 100
# Semitones; General MIDI's own 2 would not hold a fall or a plop.
BEND_RANGE = 12
# Percussion has channel 10, which is 9 from 0 (General MIDI).
CHANNELS = {"melody": 0, "bass": 1, "chords": 2, "drums": 9, "count": 9, "click": 9}
# 64 is the middle, less is left.
PAN = {"melody": 64, "bass": 60, "chords": 44, "drums": 72, "count": 64, "click": 64}
ROOM = {"melody": 36, "bass": 6, "chords": 30, "drums": 22, "count": 10, "click": 0}
# At one tick: a key is released before it is struck again, and bent before it sounds.
_ORDER = {"note_off": 0, "pitchwheel": 1, "note_on": 2}


def to_midi(
    performance: Performance,
    *,
    players: Sequence[str] | None = None,
    leads_s: Mapping[str, Mapping[int, float]] | None = None,
    volumes: Mapping[str, int] | None = None,
    tail_s: float = 3.0,
    title: str = "",
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
    volumes : mapping of player to 0 to 127, optional
        Channel volume where it is not 100.
    tail_s : float
        Silence after the last bar, for sounds to ring out.
    title : str
        Name of the piece.
    """
    clock = _Clock(performance)
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    if players is None:
        players = [player for player in CHANNELS if player != "click"]
    last = clock.tick(performance.seconds + tail_s)
    song.tracks.append(_conductor(performance, title, last))
    for player in players:
        events = performance.of(player)
        if events:
            leads = (leads_s or {}).get(player, {})
            volume = (volumes or {}).get(player, VOLUME)
            song.tracks.append(
                _track(
                    player, events, performance, clock, last, leads_s=leads, volume=volume
                )
            )
    content = io.BytesIO()
    song.save(file=content)
    return content.getvalue()


class _Clock:
    """Seconds to ticks; one multiplication where the tempo is steady."""

    def __init__(self, performance: Performance) -> None:
        self._map = performance.tempo_map
        self._tempo_qpm = performance.tempo_qpm
        self._ticks_per_s = performance.tempo_qpm / 60.0 * TICKS_PER_QUARTER

    def tick(self, seconds: float) -> int:
        if not self._map.steps:
            return max(0, round(seconds * self._ticks_per_s))
        quarters = self._map.quarters(seconds, self._tempo_qpm)
        return max(0, round(quarters * TICKS_PER_QUARTER))


def _conductor(performance: Performance, title: str, last: int) -> mido.MidiTrack:
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
        tick = round(position * TICKS_PER_QUARTER)
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
    events: Sequence[NoteEvent],
    performance: Performance,
    clock: _Clock,
    last: int,
    *,
    leads_s: Mapping[int, float],
    volume: int,
) -> mido.MidiTrack:
    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=player))
    channel = CHANNELS[player]
    for message in _setup(player, performance.programs.get(player, 0), volume):
        track.append(message)
    # On the drum channel a wheel would retune the whole kit.
    tuning = 12 * math.log2(performance.a4_hz / 440.0) if channel != 9 else 0.0
    if tuning:
        track.append(_wheel(channel, tuning))
    timed = sorted(
        _messages(events, channel, clock, leads_s, tuning),
        key=lambda pair: (pair[0], _ORDER[pair[1].type]),
    )
    now = 0
    for tick, message in timed:
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(now, last) - now))
    return track


def _setup(player: str, program: int, volume: int) -> Iterator[Message]:
    channel = CHANNELS[player]
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


def _messages(
    events: Sequence[NoteEvent],
    channel: int,
    clock: _Clock,
    leads_s: Mapping[int, float],
    tuning: float,
) -> Iterator[tuple[int, Message]]:
    next_on: dict[int, int] = {}
    bent = False
    rows: list[tuple[NoteEvent, int, int]] = []
    for event in sorted(events, key=lambda event: event.start_s, reverse=True):
        on = clock.tick(event.start_s - leads_s.get(event.midi, 0.0))
        off = max(on + 1, clock.tick(event.end_s))
        limit = next_on.get(event.midi)
        if limit is not None and limit <= off:
            off = limit
        next_on[event.midi] = on
        if off > on:
            rows.append((event, on, off))
    for event, on, off in reversed(rows):
        # The wheel stays where it was: a plain note after a bent one sets it back.
        if bent or event.bends:
            yield on, _wheel(channel, tuning)
        bent = bool(event.bends)
        yield (
            on,
            Message("note_on", channel=channel, note=event.midi, velocity=event.velocity),
        )
        for at, semitones in event.bends:
            place = clock.tick(event.start_s + at)
            if on <= place <= off:
                yield place, _wheel(channel, semitones + tuning)
        yield off, Message("note_off", channel=channel, note=event.midi, velocity=0)
