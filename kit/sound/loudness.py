"""How loud is it, how high are its peaks, and how is it brought to the level we promise?

* Integrated loudness after ITU-R BS.1770-4: K-weighting, 400 ms blocks with 75 % overlap,
  gates at -70 LUFS and 10 LU below the mean.
* True peak after its annex 2: four times oversampled.
* `normalised` brings audio to -16 LUFS with peaks below a ceiling; where the gain alone
  would pass it, a gentle look-ahead limiter takes the peaks down.

Samples are float32 or float64, shape (samples, 2), full scale 1.0. Filter coefficients
for 48 kHz are those printed in the recommendation.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import resample_poly, sosfilt

Samples = NDArray[np.float32]

__all__ = [
    "CEILING_DBTP",
    "TARGET_LUFS",
    "integrated_lufs",
    "k_weighted",
    "normalised",
    "true_peak_dbtp",
]

TARGET_LUFS = -16.0
CEILING_DBTP = -2.5
"""Under the promised -1 dBTP, because MP3 coding raises peaks (by up to 1.1 dB here)."""

SAMPLE_RATE_HZ = 48_000
_K_SECTIONS = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285,
     1.0, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)  # fmt: skip
_OVERSAMPLING = 4
_BLOCK = 48  # one millisecond
_LOOKAHEAD_BLOCKS = 6
_SILENCE_LUFS = -70.0
_ROUNDS = 6


def k_weighted(samples: Samples) -> NDArray[np.float64]:
    """Filter audio as the ear weighs it (BS.1770 K-weighting, 48 kHz)."""
    weighted: NDArray[np.float64] = sosfilt(np.array(_K_SECTIONS), samples, axis=0)
    return weighted


def _step_energies(samples: Samples, step: int) -> NDArray[np.float64]:
    """Give the weighted mean square of each step, channels added.

    The audio is filtered in pieces of ten seconds: memory that is used again is far
    faster than fresh memory for the whole.
    """
    sections = np.array(_K_SECTIONS)
    state = np.zeros((len(sections), 2, samples.shape[1]))
    piece = 100 * step
    energies: list[NDArray[np.float64]] = []
    for start in range(0, len(samples), piece):
        weighted, state = sosfilt(
            sections, samples[start : start + piece], axis=0, zi=state
        )
        squares = np.square(weighted, out=weighted).sum(axis=1)
        energies.append(squares.reshape(-1, step).mean(axis=1))
    return np.concatenate(energies)


def integrated_lufs(samples: Samples) -> float:
    """Measure integrated loudness in LUFS; minus infinity for silence or under 400 ms."""
    step = SAMPLE_RATE_HZ // 10
    steps = len(samples) // step
    if steps < 4:
        return -math.inf
    energy = _step_energies(samples[: steps * step], step)
    blocks = (energy[:-3] + energy[1:-2] + energy[2:-1] + energy[3:]) / 4
    loud = blocks[blocks > 10 ** ((_SILENCE_LUFS + 0.691) / 10)]
    if not len(loud):
        return -math.inf
    gated = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(gated.mean()))


def true_peak_dbtp(samples: Samples) -> float:
    """Measure the true peak in dBTP; minus infinity for silence."""
    peak = float(_block_peaks(samples).max(initial=0.0))
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def normalised(
    samples: Samples,
    *,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
) -> tuple[Samples, float, float]:
    """Bring audio to a loudness under a ceiling.

    Returns
    -------
    (samples, lufs, true_peak_dbtp)
        The audio and what was measured on it. Silence stays silence.
    """
    loudness = integrated_lufs(samples)
    if loudness == -math.inf:
        return samples, loudness, true_peak_dbtp(samples)
    ceiling = 10 ** (ceiling_dbtp / 20)
    peaks = _block_peaks(samples)
    gain = 10 ** ((target_lufs - loudness) / 20)
    if peaks.max() * gain <= ceiling:
        peak_dbtp = 20 * math.log10(peaks.max() * gain)
        return samples * np.float32(gain), target_lufs, peak_dbtp
    for _ in range(_ROUNDS):
        result = _limited(samples, peaks, gain, ceiling)
        measured = integrated_lufs(result)
        if abs(measured - target_lufs) < 0.1:
            break
        # What the limiter took away is made up for, and limited again.
        gain *= 10 ** ((target_lufs - measured) / 20)
    return result, measured, true_peak_dbtp(result)


def _block_peaks(samples: Samples) -> NDArray[np.float64]:
    """Give the true peak of each millisecond.

    Only stretches whose sample peak comes within 3 dB of the highest are oversampled: that
    is the most by which a tone up to a quarter of the sample rate rises between samples.
    """
    count = -(-len(samples) // _BLOCK)
    whole = len(samples) // _BLOCK
    blocks = samples[: whole * _BLOCK].reshape(whole, -1)
    peaks = np.zeros(count)
    peaks[:whole] = np.maximum(blocks.max(axis=1), -blocks.min(axis=1))
    if count > whole:
        peaks[whole] = np.abs(samples[whole * _BLOCK :]).max()
    high = np.flatnonzero(peaks > max(peaks.max(initial=0.0) * 0.7, 1e-9))
    if not len(high):
        return peaks
    for run in np.split(high, np.flatnonzero(np.diff(high) > 3) + 1):
        first, last = max(0, run[0] - 1), run[-1] + 2
        piece = samples[first * _BLOCK : last * _BLOCK]
        fine = np.abs(resample_poly(piece, _OVERSAMPLING, 1, axis=0)).max(axis=1)
        starts = np.arange(0, len(fine), _BLOCK * _OVERSAMPLING)
        found = np.maximum.reduceat(fine, starts)
        places = slice(first, first + len(found))
        peaks[places] = np.maximum(peaks[places], found)
    return peaks


def _limited(
    samples: Samples, peaks: NDArray[np.float64], gain: float, ceiling: float
) -> Samples:
    """Amplify, and turn the gain down smoothly around each peak above the ceiling."""
    limited: Samples = samples * np.float32(gain)
    needed = np.minimum(1.0, ceiling / np.maximum(peaks * gain, 1e-9))
    width = 2 * _LOOKAHEAD_BLOCKS + 1
    held = minimum_filter1d(needed, 2 * width + 1, mode="nearest")
    smooth = uniform_filter1d(uniform_filter1d(held, width), width)
    places = (np.arange(len(smooth)) + 0.5) * _BLOCK
    lowered = np.flatnonzero(smooth < 1.0 - 1e-6)
    for run in np.split(lowered, np.flatnonzero(np.diff(lowered) > 2) + 1):
        if len(run):
            start = max(0, run[0] - 1) * _BLOCK
            piece = limited[start : (run[-1] + 2) * _BLOCK]
            curve = np.interp(np.arange(start, start + len(piece)), places, smooth)
            piece *= curve[:, None].astype(np.float32)
    return limited
