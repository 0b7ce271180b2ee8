"""How is a performance written as a Standard MIDI File?

Format 1: a conductor track with tempo, meter and title, then one track for each player.
Notes on one key never overlap; every note is released; the end-of-track event comes after
the ring-out, because synthesisers stop there.

Source: Standard MIDI Files 1.0 and General MIDI level 1 (MIDI Association).
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence

import mido
from mido import Message

from kit.band.events import NoteEvent, Performance

__all__ = ["CHANNELS", "to_midi"]

TICKS_PER_QUARTER = 960
BEND_RANGE = 12
CHANNELS = {"melody": 0, "bass": 1, "chords": 2, "drums": 9, "count": 9, "click": 9}
PAN = {"melody": 64, "bass": 60, "chords": 44, "drums": 72, "count": 64, "click": 64}
ROOM = {"melody": 36, "bass": 6, "chords": 30, "drums": 22, "count": 10, "click": 0}
_ORDER = {"note_off": 0, "pitchwheel": 1, "note_on": 2}


def to_midi(
    performance: Performance,
    *,
    players: Sequence[str] | None = None,
    leads_s: Mapping[int, float] | None = None,
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
    leads_s : mapping of MIDI number to seconds, optional
        How much earlier to start a key, to make up for a slow attack of the sound.
    tail_s : float
        Silence after the last bar, for sounds to ring out.
    title : str
        Name of the piece.
    """
    ticks_per_s = performance.tempo_qpm / 60.0 * TICKS_PER_QUARTER
    song = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER)
    conductor = mido.MidiTrack()
    if title:
        # Track names are Latin-1 by the standard.
        name = title.encode("latin-1", "replace").decode("latin-1")
        conductor.append(mido.MetaMessage("track_name", name=name))
    tempo = round(60e6 / performance.tempo_qpm)
    conductor.append(mido.MetaMessage("set_tempo", tempo=min(tempo, 0xFFFFFF)))
    meter = performance.meter
    conductor.append(
        mido.MetaMessage(
            "time_signature", numerator=meter.beats, denominator=meter.beat_type
        )
    )
    song.tracks.append(conductor)
    if players is None:
        players = [player for player in CHANNELS if player != "click"]
    last = performance.seconds + tail_s
    for player in players:
        events = performance.of(player)
        if events:
            song.tracks.append(
                _track(player, events, performance, ticks_per_s, last, leads_s or {})
            )
    conductor.append(mido.MetaMessage("end_of_track", time=round(last * ticks_per_s)))
    content = io.BytesIO()
    song.save(file=content)
    return content.getvalue()


def _track(
    player: str,
    events: Sequence[NoteEvent],
    performance: Performance,
    ticks_per_s: float,
    last_s: float,
    leads_s: Mapping[int, float],
) -> object:

    track = mido.MidiTrack()
    track.append(mido.MetaMessage("track_name", name=player))
    channel = CHANNELS[player]
    for message in _setup(player, channel, performance.programs.get(player, 0)):
        track.append(message)
    timed = sorted(
        _messages(events, channel, ticks_per_s, leads_s),
        key=lambda pair: (pair[0], _ORDER[pair[1].type]),
    )
    now = 0
    for tick, message in timed:
        track.append(message.copy(time=tick - now))
        now = tick
    stop = max(now, round(last_s * ticks_per_s))
    track.append(mido.MetaMessage("end_of_track", time=stop - now))
    return track


def _setup(player: str, channel: int, program: int) -> Iterator[Message]:

    yield Message("program_change", channel=channel, program=program)
    controls = [(7, 100), (10, PAN[player]), (91, ROOM[player]), (93, 0)]
    # Registered parameter 0: the range of the pitch wheel, in semitones.
    controls += [(101, 0), (100, 0), (6, BEND_RANGE), (38, 0)]
    for control, value in controls:
        yield Message("control_change", channel=channel, control=control, value=value)


def _messages(
    events: Sequence[NoteEvent],
    channel: int,
    ticks_per_s: float,
    leads_s: Mapping[int, float],
) -> Iterator[tuple[int, Message]]:

    def tick(seconds: float) -> int:
        return max(0, round(seconds * ticks_per_s))

    next_on: dict[int, int] = {}
    bent = False
    rows: list[tuple[NoteEvent, int, int]] = []
    for event in sorted(events, key=lambda event: event.start_s, reverse=True):
        on = tick(event.start_s - leads_s.get(event.midi, 0.0))
        off = max(on + 1, tick(event.end_s))
        limit = next_on.get(event.midi)
        if limit is not None and limit <= off:
            off = limit
        next_on[event.midi] = on
        if off > on:
            rows.append((event, on, off))
    for event, on, off in reversed(rows):
        if bent or event.bends:
            yield on, Message("pitchwheel", channel=channel, pitch=0)
        bent = bool(event.bends)
        yield (
            on,
            Message("note_on", channel=channel, note=event.midi, velocity=event.velocity),
        )
        for at, semitones in event.bends:
            place = tick(event.start_s + at)
            if on <= place <= off:
                pitch = max(-8192, min(8191, round(semitones / BEND_RANGE * 8192)))
                yield place, Message("pitchwheel", channel=channel, pitch=pitch)
        yield off, Message("note_off", channel=channel, note=event.midi, velocity=0)
