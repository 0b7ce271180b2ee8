"""A performance made by hand, and a synthesiser that answers at once."""

from __future__ import annotations

import io
from pathlib import Path

import mido
import numpy as np
import pytest

from kit.band.events import NoteEvent, Performance
from kit.sound.synth import SAMPLE_RATE_HZ, Take


class ToneSynth:
    """Plays each note as a decaying sine, its attack exactly on the note.

    Of all controllers it obeys the channel's volume, by its square.
    """

    def __init__(self, key: str) -> None:
        self.key = key
        self.slurred_programs: frozenset[int] = frozenset()
        self.rendered = 0

    def render(self, midi: bytes) -> Take:
        self.rendered += 1
        song = mido.MidiFile(file=io.BytesIO(midi))
        audio = np.zeros((round(song.length * SAMPLE_RATE_HZ), 2), np.float32)
        time = np.arange(SAMPLE_RATE_HZ // 2) / SAMPLE_RATE_HZ
        now = 0.0
        volumes = dict.fromkeys(range(16), 100)
        for message in song:
            now += message.time
            if message.type == "control_change" and message.control == 7:
                volumes[message.channel] = message.value
            if message.type == "note_on" and message.velocity:
                hertz = 440 * 2 ** ((message.note - 69) / 12)
                tone = np.cos(2 * np.pi * hertz * time) * np.exp(-6 * time) * 0.1
                loudness = (message.velocity / 127 * volumes[message.channel] / 100) ** 2
                start = round(now * SAMPLE_RATE_HZ)
                piece = audio[start : start + len(tone)]
                piece += tone[: len(piece), None] * loudness
        return Take(audio)


@pytest.fixture(autouse=True)
def _cache_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # The synthesisers here are not what their keys say for ever.
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))


@pytest.fixture
def tones(request: pytest.FixtureRequest) -> ToneSynth:
    # What is measured of a synthesiser is remembered by its key: one for each test.
    return ToneSynth(request.node.nodeid)


@pytest.fixture
def performance() -> Performance:
    """Eight seconds at 120: four count-in sticks, then everybody."""
    events = [NoteEvent("count", 31, beat * 0.5, 0.1, 110) for beat in range(4)]
    for beat in range(12):
        at = 2 + beat * 0.5
        events.append(NoteEvent("melody", 60 + beat % 5, at, 0.45, 90))
        events.append(NoteEvent("bass", 36 + beat % 3, at, 0.48, 85))
        events.extend(NoteEvent("chords", midi, at, 0.3, 70) for midi in (52, 57, 60))
        events.append(NoteEvent("drums", 51, at, 0.1, 80))
        events.append(NoteEvent("click", 76 if beat % 4 == 0 else 77, at, 0.1, 80))
    programs = {"melody": 65, "bass": 32, "chords": 0, "drums": 32, "count": 0, "click": 0}
    return Performance(tuple(events), 8.0, 2.0, programs, 120.0)
