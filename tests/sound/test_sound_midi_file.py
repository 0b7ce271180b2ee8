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


@pytest.mark.parametrize("stops", [False, True])
def test_bends_return_to_the_middle_before_the_next_note(stops: bool) -> None:
    events = (
        NoteEvent("melody", 60, 0.0, 0.5, 90, ((0.3, 0.0), (0.5, -4.0))),
        NoteEvent("melody", 62, 0.5, 0.5, 90),
        NoteEvent("melody", 64, 1.0, 0.5, 90),
    )
    song = read(to_midi(Performance(events, 1.5, 0.0, {"melody": 65}), stops=stops))
    wheels: Counter[int] = Counter()
    for message in song.tracks[1]:
        if message.type == "pitchwheel":
            wheels[message.channel] = message.pitch
        elif message.type == "note_on":
            assert wheels[message.channel] == 0
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


@pytest.mark.parametrize("stops", [False, True])
def test_sounds_without_an_attack_are_chosen_for_slurred_notes_only(stops: bool) -> None:
    leads = {"melody": {62: 0.01}}
    song = read(to_midi(slurred_pair(), slurred_leads_s=leads, stops=stops))
    banks, bank, program = [], Counter(), {}
    for message in song.tracks[1]:
        if message.type == "control_change" and message.control == 0:
            bank[message.channel] = message.value
        elif message.type == "program_change":
            program[message.channel] = (bank[message.channel], message.program)
        elif message.type == "note_on":
            banks.append(program[message.channel])
    assert banks == [(0, 65), (1, 65), (0, 65)]
    plain = read(to_midi(slurred_pair())).tracks[1]
    assert not any(m.type == "control_change" and m.control == 0 for m in plain)


def expressions(events: tuple[NoteEvent, ...]) -> dict[int, list[tuple[float, int]]]:
    """Give (seconds, expression) of each channel of the melody."""
    found: dict[int, list[tuple[float, int]]] = {}
    now = 0.0
    track = read(to_midi(Performance(events, 4.0, 0.0, {"melody": 65}), stops=True)).tracks[
        1
    ]
    for message in track:
        now += message.time / 1920
        if message.type == "control_change" and message.control == 11:
            found.setdefault(message.channel, []).append((now, message.value))
    return found


def test_a_swell_is_the_channels_expression_and_ends_with_its_note() -> None:
    swollen, plain = expressions(
        (
            NoteEvent("melody", 60, 0.0, 1.0, 90, swell=((0.0, -12.0), (1.0, 0.0))),
            NoteEvent("melody", 62, 1.0, 0.5, 90),
            NoteEvent("melody", 64, 2.0, 0.5, 90),
        )
    ).values()
    rising = [value for at, value in swollen if at < 1.001]
    # The amplitude goes with the square of the value: half of it is 12 dB less.
    assert swollen[0] == (0, pytest.approx(64, abs=1))
    assert rising == sorted(rising)
    assert (2.0, 127) in [(round(at, 3), value) for at, value in swollen], "even again"
    assert plain[0][0] >= 1.5, "the note between has a channel of its own"


def test_a_note_is_stopped_while_the_next_begins() -> None:
    events = (
        NoteEvent("melody", 60, 0.0, 0.5, 90),
        NoteEvent("melody", 62, 0.5, 0.5, 90),
        NoteEvent("melody", 64, 0.97, 0.5, 90),
    )
    first, second = expressions(events).values()
    falling = [(at, value) for at, value in first if at < 0.9]
    assert 0.5 < falling[0][0] < falling[-1][0] < 0.57
    assert [value for _, value in falling] == sorted((v for _, v in falling), reverse=True)
    assert falling[-1][1] == 0
    assert (0.97, 127) in [(round(at, 3), value) for at, value in first]
    assert min(at for at, _ in second) > 1.0
