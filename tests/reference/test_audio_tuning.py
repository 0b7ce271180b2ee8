"""The band's tuning, measured in the sound.

Source: ISO 16:1975 (A4 = 440 Hz) and equal temperament; 415 Hz is the usual "baroque"
pitch, 442 and 443 Hz are common in orchestras, 446 Hz is the highest we offer (common
practice).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from kit.band.events import NoteEvent, Performance
from kit.sound._stems import render_stem
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

RATE = 48_000


def hertz_near(audio: np.ndarray, expected: float) -> float:
    """The strongest partial within a semitone of a frequency, from one FFT."""
    window = np.hanning(len(audio))
    spectrum = np.abs(np.fft.rfft(audio * window, 8 * len(audio)))
    bins = np.fft.rfftfreq(8 * len(audio), 1 / RATE)
    near = (bins > expected / 1.06) & (bins < expected * 1.06)
    return float(bins[near][np.argmax(spectrum[near])])


@pytest.mark.parametrize("a4_hz", [415.0, 440.0, 442.0, 446.0])
@pytest.mark.parametrize(("player", "program", "midi"), [
    ("melody", 65, 69), ("melody", 71, 74), ("chords", 0, 62), ("bass", 32, 45),
])  # fmt: skip
def test_every_tuned_player_is_at_the_pitch_asked_for(
    a4_hz: float, player: str, program: int, midi: int
) -> None:
    events = (NoteEvent(player, midi, 0.1, 1.8, 90),)
    show = Performance(events, 2.0, 0.0, {player: program}, a4_hz=a4_hz)
    synth = open_synth(find_soundfont(environ={}))
    audio = render_stem(show, player, synth).floats()[RATE // 2 : RATE * 3 // 2]
    expected = a4_hz * 2 ** ((midi - 69) / 12)
    cents = 1200 * math.log2(hertz_near(audio.mean(axis=1), expected) / expected)
    assert abs(cents) < 10


def test_a_tuning_moves_the_sound_by_the_right_interval() -> None:
    """Whatever the samples' own error, 415 is 101.3 cents below 440, within 1.5 cents."""
    synth = open_synth(find_soundfont(environ={}))
    heard = []
    for a4_hz in (440.0, 415.0):
        events = (NoteEvent("melody", 69, 0.1, 1.8, 90),)
        show = Performance(events, 2.0, 0.0, {"melody": 65}, a4_hz=a4_hz)
        audio = render_stem(show, "melody", synth).floats()[RATE // 2 : RATE * 3 // 2]
        heard.append(hertz_near(audio.mean(axis=1), a4_hz))
    cents = 1200 * math.log2(heard[0] / heard[1])
    assert cents == pytest.approx(1200 * math.log2(440 / 415), abs=1.5)
