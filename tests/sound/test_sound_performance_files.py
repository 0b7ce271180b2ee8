"""What leaves the room besides MP3: MIDI that others can read, lossless audio, loops."""

from __future__ import annotations

import io
from dataclasses import replace
from fractions import Fraction

import mido
import numpy as np
import pretty_midi
import pytest
import soundfile

from kit.band.events import NoteEvent, Performance
from kit.route.tempo import TempoMap, ritardando
from kit.sound._stems import render_stem
from kit.sound.midi_file import to_midi
from kit.sound.mix_names import mix_table
from kit.sound.render import encode_lossless, encode_mp3, render_mixes
from kit.sound.synth import Synth


def note_starts(song: mido.MidiFile) -> list[float]:
    now, starts = 0.0, []
    for message in song:
        now += message.time
        if message.type == "note_on" and message.velocity:
            starts.append(now)
    return starts


def slowing() -> Performance:
    """Eight quarters at 120 that slow down over the last four, each note on its beat."""
    curve = ritardando(Fraction(4), Fraction(8))
    starts = [curve.seconds(Fraction(beat), 120) for beat in range(8)]
    events = tuple(NoteEvent("melody", 60 + n, at, 0.2, 90) for n, at in enumerate(starts))
    return Performance(
        events, curve.seconds(Fraction(8), 120), 0.0, {"melody": 65}, 120.0, tempo_map=curve
    )


def test_a_ritardando_is_tempo_events_and_the_notes_stay_on_their_beats() -> None:
    show = slowing()
    song = mido.MidiFile(file=io.BytesIO(to_midi(show)))
    tempos = [m.tempo for m in song.tracks[0] if m.type == "set_tempo"]
    assert tempos == sorted(tempos)
    assert len(tempos) > 5
    planned = [event.start_s for event in show.of("melody")]
    assert note_starts(song) == pytest.approx(planned, abs=0.001)
    ticks, now = [], 0
    for message in song.tracks[1]:
        now += message.time
        if message.type == "note_on":
            ticks.append(now)
    assert [tick / 960 for tick in ticks] == pytest.approx(list(range(8)), abs=0.002)


def test_pretty_midi_reads_the_same_seconds_under_a_ritardando() -> None:
    show = slowing()
    song = pretty_midi.PrettyMIDI(io.BytesIO(to_midi(show)))
    starts = sorted(note.start for note in song.instruments[0].notes)
    assert starts == pytest.approx([e.start_s for e in show.of("melody")], abs=0.001)


def test_another_tuning_is_a_standing_bend_of_every_tuned_player(
    performance: Performance,
) -> None:
    low = replace(performance, a4_hz=415.0)
    song = mido.MidiFile(file=io.BytesIO(to_midi(low)))
    wheels = {m.channel: m.pitch for m in song if m.type == "pitchwheel"}
    expected = round(12 * np.log2(415 / 440) / 12 * 8192)
    assert wheels == {0: expected, 1: expected, 2: expected}
    plain = mido.MidiFile(file=io.BytesIO(to_midi(performance)))
    assert not [m for m in plain if m.type == "pitchwheel"]


def test_lossless_audio_holds_the_mix_to_24_bits(
    performance: Performance, tones: Synth
) -> None:
    demo = render_mixes(performance, ["demo"], synth=tones)["demo"]
    data = encode_lossless(demo, tags={"title": "Übung ♭", "track": "2"})
    back, rate = soundfile.read(io.BytesIO(data), dtype="float32")
    assert rate == 48_000
    assert np.abs(back - demo.samples).max() < 2**-22
    with soundfile.SoundFile(io.BytesIO(data)) as file:
        assert file.title == "Übung ♭"
    with pytest.raises(ValueError, match="no tag"):
        encode_lossless(demo, tags={"mood": "blue"})


def test_a_loop_has_the_length_of_its_bars_and_no_step_from_round_to_round(
    performance: Performance, tones: Synth
) -> None:
    loop = render_mixes(performance, ["demo"], synth=tones, is_loop=True)["demo"]
    assert len(loop.samples) == round(performance.seconds * 48_000)
    steps = abs(np.diff(loop.samples, axis=0)).max()
    assert abs(loop.samples[0] - loop.samples[-1]).max() <= steps
    packed = encode_mp3(loop)
    back, _ = soundfile.read(io.BytesIO(packed))
    assert len(back) == len(loop.samples), "so it can be repeated without a gap"


def test_what_rings_at_the_end_of_a_loop_is_heard_in_its_next_round(tones: Synth) -> None:
    late = NoteEvent("melody", 69, 0.9, 0.1, 100)
    score = Performance((late,), 1.0, 0.0, {"melody": 65})
    loop = render_mixes(score, ["melody"], synth=tones, is_loop=True)["melody"].samples
    early, before = abs(loop[:4800]).max(), abs(loop[-4800:]).max()
    # The tone falls by a factor of exp(-6 * 0.1) in a tenth of a second.
    assert early == pytest.approx(before * np.exp(-0.6), rel=0.15)


def test_players_rendered_together_are_in_balance(
    performance: Performance, tones: Synth
) -> None:
    """The rhythm section's one pass is its two players' sum within half a decibel."""
    both = render_stem(performance, ("bass", "chords"), tones).floats()
    parts = [render_stem(performance, one, tones).floats() for one in ("bass", "chords")]
    level, expected = (np.sqrt((x**2).mean()) for x in (both, parts[0] + parts[1]))
    assert 20 * np.log10(level / expected) == pytest.approx(0, abs=0.5)


@pytest.mark.parametrize("mix", mix_table().mixes)
def test_every_player_of_a_mix_is_in_exactly_one_stem(mix: str) -> None:
    table = mix_table()
    players = [player for stem in table.stems(mix) for player in stem]
    assert sorted(players) == sorted(table.players(mix))


def test_a_mix_has_the_same_bytes_whatever_is_rendered_beside_it(
    performance: Performance, tones: Synth
) -> None:
    alone = render_mixes(performance, ["backing"], synth=tones)["backing"]
    among = render_mixes(performance, ["no-bass", "demo", "backing"], synth=tones)
    assert np.array_equal(alone.samples, among["backing"].samples)


def test_a_steady_map_writes_one_tempo(performance: Performance) -> None:
    assert performance.tempo_map == TempoMap()
    song = mido.MidiFile(file=io.BytesIO(to_midi(performance)))
    assert len([m for m in song.tracks[0] if m.type == "set_tempo"]) == 1
