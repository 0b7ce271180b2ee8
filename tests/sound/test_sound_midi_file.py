from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace

import mido
import pytest

from kit.band.events import NoteEvent, Performance
from kit.sound.midi_file import to_midi


def read(content: bytes) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(content))


def test_the_file_has_tempo_meter_programs_and_length(performance: Performance) -> None:
    song = read(to_midi(performance, title="Tüne ♭"))
    kinds = {m.type: m for m in song.tracks[0]}
    assert kinds["set_tempo"].tempo == 500_000
    assert kinds["time_signature"].numerator == 4
    programs = {
        m.channel: m.program for t in song.tracks for m in t if m.type == "program_change"
    }
    assert programs[0] == 65
    assert song.length == pytest.approx(11.0, abs=0.01)


def test_no_note_is_stuck_or_struck_while_it_sounds(performance: Performance) -> None:
    doubled = replace(
        performance,
        events=(*performance.events, NoteEvent("melody", 60, 2.2, 3.0, 90)),
    )
    sounding: Counter[tuple[int, int]] = Counter()
    for track in read(to_midi(doubled)).tracks:
        for message in track:
            if message.type == "note_on":
                sounding[message.channel, message.note] += 1
                assert sounding[message.channel, message.note] == 1
            elif message.type == "note_off":
                sounding[message.channel, message.note] -= 1
    assert not +sounding


def test_bends_return_to_the_middle_before_the_next_note() -> None:
    events = (
        NoteEvent("melody", 60, 0.0, 0.5, 90, ((0.3, 0.0), (0.5, -4.0))),
        NoteEvent("melody", 62, 0.5, 0.5, 90),
    )
    song = read(to_midi(Performance(events, 1.0, 0.0, {"melody": 65})))
    wheel = 0
    for message in song.tracks[1]:
        if message.type == "pitchwheel":
            wheel = message.pitch
        elif message.type == "note_on":
            assert wheel == 0
    lowest = min(m.pitch for m in song.tracks[1] if m.type == "pitchwheel")
    assert lowest == round(-4 / 12 * 8192)


def test_leads_start_notes_earlier_but_never_before_the_file() -> None:
    events = (NoteEvent("melody", 60, 0.0, 0.5, 90), NoteEvent("melody", 60, 1.0, 0.5, 90))
    score = Performance(events, 2.0, 0.0, {"melody": 65})
    song = read(to_midi(score, leads_s={"melody": {60: 0.02}}))
    now, starts = 0.0, []
    for message in song:
        now += message.time
        if message.type == "note_on":
            starts.append(now)
    assert starts == pytest.approx([0.0, 0.98], abs=0.001)


def slurred_pair() -> Performance:
    events = (
        NoteEvent("melody", 60, 0.0, 0.5, 90),
        NoteEvent("melody", 62, 0.5, 0.5, 90, joined=True),
        NoteEvent("melody", 64, 1.0, 0.5, 90),
    )
    return Performance(events, 2.0, 0.0, {"melody": 65})


def test_a_slurred_note_begins_while_the_one_before_still_sounds() -> None:
    pairs = read(to_midi(slurred_pair())).tracks[1]
    sounding: set[int] = set()
    overlaps = []
    for message in pairs:
        if message.type == "note_on":
            overlaps.append(len(sounding))
            sounding.add(message.note)
        elif message.type == "note_off":
            sounding.discard(message.note)
    assert overlaps == [0, 1, 0]


def test_sounds_without_an_attack_are_chosen_for_slurred_notes_only() -> None:
    song = read(to_midi(slurred_pair(), slurred_leads_s={"melody": {62: 0.01}}))
    banks, bank, program = [], 0, None
    for message in song.tracks[1]:
        if message.type == "control_change" and message.control == 0:
            bank = message.value
        elif message.type == "program_change":
            program = (bank, message.program)
        elif message.type == "note_on":
            banks.append(program)
    assert banks == [(0, 65), (1, 65), (0, 65)]
    plain = read(to_midi(slurred_pair())).tracks[1]
    assert not any(m.type == "control_change" and m.control == 0 for m in plain)


def test_a_swell_is_the_channels_expression_and_ends_with_its_note() -> None:
    events = (
        NoteEvent("melody", 60, 0.0, 1.0, 90, swell=((0.0, -12.0), (1.0, 0.0))),
        NoteEvent("melody", 62, 1.0, 0.5, 90),
    )
    song = read(to_midi(Performance(events, 2.0, 0.0, {"melody": 65})))
    values, now = [], 0
    for message in song.tracks[1]:
        now += message.time
        if message.type == "control_change" and message.control == 11:
            values.append((now, message.value))
    first, last = values[0], values[-1]
    # The amplitude goes with the square of the value: half of it is 12 dB less.
    assert first == (0, pytest.approx(64, abs=1))
    assert [value for _, value in values] == sorted(value for _, value in values)
    assert last[1] == 127
