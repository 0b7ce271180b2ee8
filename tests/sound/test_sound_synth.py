from __future__ import annotations

import ctypes.util
import importlib.util

import numpy as np
import pytest

from kit.band.events import NoteEvent, Performance
from kit.errors import SetupError
from kit.sound import synth as synth_module
from kit.sound._patch import measure_patch, onset_s
from kit.sound.midi_file import to_midi
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import FluidSynthLibrary, Midirenderer, open_synth

HAS_LIBRARY = ctypes.util.find_library("fluidsynth") is not None
HAS_WHEEL = importlib.util.find_spec("midirenderer") is not None
SYNTHS = [
    *([Midirenderer] if HAS_WHEEL else []),
    *([FluidSynthLibrary] if HAS_LIBRARY else []),
]


def short_song() -> bytes:
    events = (NoteEvent("melody", 69, 0.5, 0.5, 90),)
    return to_midi(Performance(events, 1.0, 0.0, {"melody": 65}), tail_s=1.0)


@pytest.mark.parametrize("kind", SYNTHS)
def test_every_synthesiser_gives_stereo_of_the_right_length(kind: type) -> None:
    take = kind(find_soundfont(environ={})).render(short_song())
    audio = take.floats()
    assert audio.shape[1] == 2
    assert len(take) == pytest.approx(2.0 * 48_000, abs=0.1 * 48_000)
    assert not audio[: round(0.45 * 48_000)].any() or abs(audio[:20_000]).max() < 1e-3
    assert 0.01 < abs(audio).max() < 1
    again = kind(find_soundfont(environ={})).render(short_song()).floats()
    assert np.array_equal(audio, again)


def test_leads_make_up_for_the_attack() -> None:
    synth = open_synth(find_soundfont(environ={}))
    patch = measure_patch(synth, "melody", 65, [63, 69])
    assert 0.003 < patch.leads_s[63] < 0.04
    assert -60 < patch.level_lufs < -10


def test_onset_of_silence_is_zero() -> None:
    assert onset_s(np.zeros((9600, 2), np.float32)) == 0.0


def test_a_machine_without_synthesiser_is_told_in_one_sentence(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("KIT_SYNTH", "fluidsynth")
    monkeypatch.setattr(synth_module.ctypes.util, "find_library", lambda name: None)
    with pytest.raises(SetupError, match="no synthesiser is installed; run pip install"):
        open_synth(find_soundfont(environ={}))
