from __future__ import annotations

import ctypes.util
import importlib.util

import numpy as np
import pytest
from scipy.signal import welch

from kit.band.events import NoteEvent, Performance
from kit.errors import SetupError
from kit.sound import synth as synth_module
from kit.sound._high_pass import high_passed
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


def below_the_music(audio: np.ndarray) -> float:
    """Give the share of the energy that lies below the lowest note of a bass."""
    hertz, power = welch(audio[:, 0], 48_000, nperseg=48_000, detrend=False)
    return float(power[hertz < 25].sum() / power.sum())


@pytest.mark.parametrize("kind", SYNTHS)
def test_no_wind_instrument_holds_the_cone_out(kind: type) -> None:
    """Of the saxophone of some fonts half the energy is an offset."""
    synth = kind(find_soundfont(environ={}))
    for program in range(56, 80):
        events = tuple(
            NoteEvent("melody", 60 + 2 * step, step / 2, 0.4, 90) for step in range(8)
        )
        song = to_midi(Performance(events, 4.0, 0.0, {"melody": program}), tail_s=1.0)
        audio = synth.render(song).floats()
        assert below_the_music(audio) < 0.01, program
        assert abs(audio.mean()) < 1e-4, program


@pytest.mark.parametrize("kind", [np.int16, np.float32])
def test_the_high_pass_leaves_the_lowest_string_and_takes_the_offset(kind: type) -> None:
    time = np.arange(15 * 48_000) / 48_000
    full = 20_000 if kind is np.int16 else 0.6
    for hertz, least, most in ((41.2, -0.1, 0.05), (110.0, -0.02, 0.02), (8.0, -90, -38)):
        wave = (full * np.sin(2 * np.pi * hertz * time)).astype(kind)
        passed = high_passed(np.stack([wave, wave], axis=1), 48_000)
        assert passed.dtype == kind
        assert passed.shape == (len(time), 2)
        heard, was = passed[48_000:].astype(float), wave[48_000:].astype(float)
        level = 20 * np.log10(np.std(heard) / np.std(was))
        assert least < level < most, hertz
    offset = high_passed(np.full((48_000, 2), full / 4, kind), 48_000)
    assert abs(offset[24_000:]).max() < full * 1e-4


def test_a_loud_wave_does_not_turn_over_in_the_high_pass() -> None:
    square = np.where(np.arange(48_000) // 200 % 2, 32767, -32768).astype(np.int16)
    passed = high_passed(np.stack([square, square], axis=1), 48_000)
    # Overshoot is cut off at full scale, never wrapped round to the other sign.
    assert (np.sign(passed[210:390, 0]) == np.sign(square[210])).all()


def test_leads_make_up_for_the_attack() -> None:
    synth = open_synth(find_soundfont(environ={}))
    patch = measure_patch(
        synth, 65, [NoteEvent("melody", key, 0.0, 0.5, 90) for key in (63, 69)]
    )
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
