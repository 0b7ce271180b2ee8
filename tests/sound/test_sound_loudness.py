from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.signal import resample_poly

from kit.sound._loudness import integrated_lufs, normalise
from kit.sound._true_peak import BLOCK, block_peaks, true_peak_dbtp

RATE = 48_000


def sine(level_dbfs: float, seconds: float = 20, hertz: float = 1000) -> np.ndarray:
    time = np.arange(round(seconds * RATE)) / RATE
    tone = 10 ** (level_dbfs / 20) * np.sin(2 * np.pi * hertz * time)
    return np.stack([tone, tone], axis=1).astype(np.float32)


# EBU Tech 3341, minimum requirements, cases 1 to 4: stereo sine of 1000 Hz.
@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        ([(-23, 20)], -23),
        ([(-33, 20)], -33),
        ([(-36, 10), (-23, 60), (-36, 10)], -23),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23),
    ],
)
def test_the_meter_reads_the_ebu_signals(
    steps: list[tuple[float, float]], expected: float
) -> None:
    signal = np.concatenate([sine(level, seconds) for level, seconds in steps])
    assert integrated_lufs(signal) == pytest.approx(expected, abs=0.1)


# EBU Tech 3341, cases 15 to 17: sines at a quarter of the sample rate and below, whose
# peaks lie between samples.
@pytest.mark.parametrize(("divisor", "phase"), [(4, 0), (4, 45), (6, 60), (8, 67.5)])
def test_true_peaks_between_samples_are_found(divisor: int, phase: float) -> None:
    angle = 2 * np.pi * np.arange(RATE) / divisor + math.radians(phase)
    tone = 0.5 * np.sin(angle) * np.hanning(RATE)
    signal = np.stack([tone, tone], axis=1).astype(np.float32)
    assert true_peak_dbtp(signal) == pytest.approx(-6.02, abs=0.4)


def test_normalising_is_only_a_gain_where_peaks_allow() -> None:
    quiet = sine(-40, 3)
    result = quiet.copy()
    lufs, peak = normalise(result)
    ratio = result[100:200] / np.where(quiet[100:200] == 0, 1, quiet[100:200])
    assert np.ptp(ratio[ratio > 0]) < 1e-3
    assert lufs == -16.0
    assert peak == pytest.approx(true_peak_dbtp(result), abs=0.01)


def test_the_limiter_keeps_the_ceiling_and_the_loudness() -> None:
    rng = np.random.default_rng(5)
    music = sine(-30, 6) + rng.normal(0, 0.003, (6 * RATE, 2)).astype(np.float32)
    music[RATE :: RATE // 2] += 0.6
    lufs, peak = normalise(music)
    assert peak == pytest.approx(-2.5, abs=0.05)
    assert true_peak_dbtp(music) <= -2.4
    assert lufs == pytest.approx(-16, abs=0.1)
    assert integrated_lufs(music) == pytest.approx(lufs, abs=0.05), "as was computed"
    steps = np.abs(np.diff(music[: RATE // 2], axis=0)).max()
    assert steps < 0.2, "no clicks from the gain itself"


def test_bare_clicks_are_measured_after_all() -> None:
    clicks = np.zeros((6 * RATE, 2), np.float32)
    clicks[:: RATE // 2] = 0.5
    lufs, peak = normalise(clicks)
    assert lufs == integrated_lufs(clicks)
    assert peak == true_peak_dbtp(clicks) <= -1.5


def test_audio_that_cannot_be_changed_in_place_is_refused() -> None:
    with pytest.raises(ValueError, match="contiguous"):
        normalise(sine(-20, 1)[::2])


def test_peaks_of_each_millisecond_agree_with_oversampling() -> None:
    rng = np.random.default_rng(8)
    noise = rng.normal(0, 0.2, (RATE // 2 + 7, 2)).astype(np.float32)
    fine = np.abs(resample_poly(noise, 4, 1, axis=0)).max(axis=1)
    peaks = block_peaks(noise, limit=0)
    blocks = fine[: len(fine) // (4 * BLOCK) * 4 * BLOCK].reshape(-1, 4 * BLOCK)
    np.testing.assert_allclose(peaks[1:-2], blocks.max(axis=1)[1:-1], rtol=0.01)
    assert len(peaks) == RATE // 2 // BLOCK + 1


def test_silence_and_snippets_have_no_loudness() -> None:
    assert integrated_lufs(np.zeros((RATE, 2), np.float32)) == -math.inf
    assert integrated_lufs(sine(-10, 0.3)) == -math.inf
    assert true_peak_dbtp(np.zeros((RATE, 2), np.float32)) == -math.inf
