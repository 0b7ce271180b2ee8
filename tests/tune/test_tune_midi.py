from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest

from kit.errors import NotationError
from kit.tune.key_find import find_key, spelled_in_key
from kit.tune.midi._grid import quantised
from kit.tune.midi.read import read_midi
from kit.tune.model import Tune
from kit.tune.pitch import Key, NoteName
from kit.tune.sounding import sounding

TICKS = 96


def midi(
    notes: list[tuple[float, float, int]],
    *,
    metas: list[tuple[float, mido.MetaMessage]] = (),
    name: str = "Lead",
    others: list[tuple[str, list[tuple[float, float, int]]]] = (),
) -> bytes:
    """Build a file from (start, length, key) in quarter notes."""
    file = mido.MidiFile(ticks_per_beat=TICKS)
    for track_name, track_notes in [(name, notes), *others]:
        track = mido.MidiTrack()
        events = [(0, mido.MetaMessage("track_name", name=track_name))]
        if track_name == name:
            events += [(round(at * TICKS), meta) for at, meta in metas]
        for start, length, key in track_notes:
            on = mido.Message("note_on", note=key, velocity=80)
            off = mido.Message("note_off", note=key)
            events += [(round(start * TICKS), on), (round((start + length) * TICKS), off)]
        now = 0
        for at, message in sorted(events, key=lambda e: (e[0], e[1].type == "note_on")):
            track.append(message.copy(time=at - now))
            now = at
        file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def read(data: bytes, **options) -> Tune:
    return read_midi(data, source="tune.mid", **options)


SCALE = [(beat, 1, key) for beat, key in enumerate([60, 62, 63, 65, 67, 68, 70, 72])]


def test_bars_lengths_key_and_tempo_are_read() -> None:
    metas = [
        (0, mido.MetaMessage("key_signature", key="Eb")),
        (0, mido.MetaMessage("set_tempo", tempo=500_000)),
        (0, mido.MetaMessage("time_signature", numerator=4, denominator=4)),
    ]
    tune = read(midi(SCALE, metas=metas))
    assert (tune.key, tune.tempo_qpm, len(tune.bars)) == (Key(-3), 120, 2)
    assert [str(n.pitch) for n in tune.bars[0].notes] == ["C4", "D4", "E♭4", "F4"]


def test_key_is_estimated_where_none_is_named() -> None:
    tune = read(midi([*SCALE, (8, 4, 60), (12, 2, 67), (14, 2, 63)]))
    assert tune.key == Key(-3, "minor")
    assert any("C minor" in notice for notice in tune.notices)


@pytest.mark.parametrize("tonic", range(12))
@pytest.mark.parametrize("mode", ["major", "minor"])
def test_every_key_is_found_from_its_own_scale(tonic: int, mode: str) -> None:
    steps = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 11)}[mode]
    weights = [0.0] * 12
    for step in steps:
        weights[(tonic + step) % 12] = 3.0 if step == 0 else 2.0 if step == 7 else 1.0
    key = find_key(weights).key
    assert (key.tonic.pitch_class, key.mode) == (tonic, mode)
    assert abs(key.fifths) <= 6


def test_spelling_follows_the_key() -> None:
    names = [
        str(NoteName.from_fifths(spelled_in_key(pc, Key(-3, "minor")))) for pc in range(12)
    ]
    assert names == ["C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B"]


def test_ragged_playing_is_put_on_the_grid() -> None:
    played = [(0.02, 0.9, 60), (1.03, 0.44, 62), (1.48, 0.4, 64), (1.99, 1.8, 65)]
    tune = read(midi([*played, (4, 4, 60)]))
    first = tune.bars[0].notes
    assert [note.duration for note in first] == [1, Fraction(1, 2), Fraction(1, 2), 2]


def test_triplets_are_found() -> None:
    notes = [(0, 1 / 3, 60), (1 / 3, 1 / 3, 62), (2 / 3, 1 / 3, 64), (1, 3, 65)]
    tune = read(midi(notes))
    assert [n.duration for n in tune.bars[0].notes][:3] == [Fraction(1, 3)] * 3
    assert tune.bars[0].notes[0].tuplet == (3, 2)


def test_swung_eighths_are_written_plain() -> None:
    notes = [
        event
        for beat in range(8)
        for event in ((beat, 2 / 3, 60 + beat), (beat + 2 / 3, 1 / 3, 62 + beat))
    ]
    tune = read(midi(notes))
    assert tune.feel == "Swing"
    assert {n.duration for bar in tune.bars for n in bar.notes} == {Fraction(1, 2)}


def test_a_late_first_note_is_a_pickup() -> None:
    tune = read(midi([(7, 1, 67), (8, 4, 60), (12, 4, 62)]))
    assert [(bar.number, bar.length) for bar in tune.bars] == [(0, 1), (1, 4), (2, 4)]


def test_notes_over_bar_lines_are_tied() -> None:
    tune = read(midi([(0, 3, 60), (3, 3, 62), (6, 2, 64)]))
    assert tune.bars[0].notes[-1].tied
    assert [s.duration for s in sounding(tune.bars)] == [3, 3, 2]


def test_chords_come_from_markers_and_labels_from_single_letters() -> None:
    metas = [
        (0, mido.MetaMessage("marker", text="A")),
        (0, mido.MetaMessage("text", text="Cm7")),
        (4, mido.MetaMessage("text", text="F7b9")),
    ]
    tune = read(midi(SCALE, metas=metas))
    assert [str(e.symbol) for bar in tune.bars for e in bar.chords] == ["Cm7", "F7♭9"]
    assert tune.bars[0].section == "A"


def test_other_texts_are_told_and_not_taken_for_chords() -> None:
    tune = read(midi(SCALE, metas=[(0, mido.MetaMessage("text", text="recorded at home"))]))
    assert not tune.bars[0].chords
    assert any("text" in notice for notice in tune.notices)


def test_melody_is_found_by_name_then_by_single_notes_then_by_height() -> None:
    chords = [(beat, 1, key) for beat in range(8) for key in (72, 76, 79)]
    bass = [(beat, 1, 36) for beat in range(8)]
    assert read(midi(SCALE, name="x", others=[("y", chords), ("z", bass)])).part_name == "x"
    assert read(midi(bass, name="Melody", others=[("Horns", SCALE)])).part_name == "Melody"
    assert read(midi(SCALE, others=[("Bass", bass)]), part="bass").part_name == "Bass"
    with pytest.raises(NotationError, match="no track"):
        read(midi(SCALE), part="Oboe")


def test_chords_in_the_line_keep_their_highest_note() -> None:
    tune = read(midi([(0, 4, 60), (0, 4, 64), (0, 4, 67)]))
    assert [str(note.pitch) for note in tune.bars[0].notes] == ["G4"]


def test_drums_are_no_melody() -> None:
    file = mido.MidiFile()
    track = mido.MidiTrack(
        [
            mido.Message("note_on", channel=9, note=38, velocity=90),
            mido.Message("note_off", channel=9, note=38, time=96),
        ]
    )
    file.tracks.append(track)
    buffer = io.BytesIO()
    file.save(file=buffer)
    with pytest.raises(NotationError, match="no notes"):
        read(buffer.getvalue())


def test_grid_notes_never_overlap() -> None:
    played = [(Fraction(0), Fraction(3), 60), (Fraction(1), Fraction(2), 62)]
    notes, _ = quantised(played)
    assert [(note.start, note.end) for note in notes] == [(0, 1), (1, 2)]
