"""How loud is it, and how is it brought to the level we promise?

* Integrated loudness after ITU-R BS.1770-4: K-weighting, 400 ms blocks with 75 % overlap,
  gates at -70 LUFS and 10 LU below the mean.
* `normalise` brings audio to -16 LUFS with true peaks (`kit.sound._true_peak`) below a
  ceiling; where the gain alone would pass it, a gentle look-ahead limiter takes the peaks
  down.

Loudness and peaks are measured once, for each millisecond. What a gain that changes as
slowly as the limiter's makes of them is computed from that, so the right gain is found
before a sample is touched.

Samples are float32, shape (samples, 2), full scale 1.0. Filter coefficients for 48 kHz are
those printed in the recommendation.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import minimum_filter1d, uniform_filter1d
from scipy.signal import sosfilt

from kit.sound._true_peak import BLOCK, block_peaks, true_peak_dbtp

Samples = NDArray[np.float32]
Curve = NDArray[np.float64]

__all__ = ["CEILING_DBTP", "TARGET_LUFS", "integrated_lufs", "k_weighted", "normalise"]

TARGET_LUFS = -16.0
CEILING_DBTP = -2.5
"""Under the promised -1 dBTP, because MP3 coding raises peaks (by up to 1.1 dB here)."""

_K_SECTIONS = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285,
     1.0, -1.69065929318241, 0.73248077421585),
    (1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621),
)  # fmt: skip
_STEP_BLOCKS = 100  # a tenth of a second
_PIECE = 1000 * BLOCK
_LOOKAHEAD_BLOCKS = 6
_SILENCE_LUFS = -70.0
_ROUNDS = 6
_DEEP = 10 ** (-12 / 20)


def k_weighted(samples: Samples) -> NDArray[np.float64]:
    """Filter audio as the ear weighs it (BS.1770 K-weighting, 48 kHz)."""
    weighted: NDArray[np.float64] = sosfilt(np.array(_K_SECTIONS), samples, axis=0)
    return weighted


def integrated_lufs(samples: Samples) -> float:
    """Measure integrated loudness in LUFS; minus infinity for silence or under 400 ms."""
    return _gated_lufs(_block_energies(samples))


def normalise(
    samples: Samples,
    *,
    target_lufs: float = TARGET_LUFS,
    ceiling_dbtp: float = CEILING_DBTP,
) -> tuple[float, float]:
    """Bring audio to a loudness under a ceiling, in place.

    Returns
    -------
    (lufs, true_peak_dbtp)
        Of the audio as it is then. Silence stays silence.

    Raises
    ------
    ValueError
        If the rows do not follow one another in memory.
    """
    if not samples.flags.c_contiguous:
        raise ValueError("audio must be contiguous to be changed in place")
    energies = _block_energies(samples)
    loudness = _gated_lufs(energies)
    if loudness == -math.inf:
        return loudness, true_peak_dbtp(samples)
    ceiling = 10 ** (ceiling_dbtp / 20)
    gain = 10 ** ((target_lufs - loudness) / 20)
    peaks = block_peaks(samples, limit=ceiling / gain)
    for _ in range(_ROUNDS):
        edges = gain * _limiter(peaks * gain, ceiling)
        levels = (edges[:-1] + edges[1:]) / 2
        loudness = _gated_lufs(energies * np.square(levels[: len(energies)]))
        if abs(loudness - target_lufs) < 0.05:
            break
        # What the limiter takes away is made up for, and limited again.
        gain *= 10 ** ((target_lufs - loudness) / 20)
    _amplify(samples, edges)
    if edges.min() < _DEEP * edges.max():
        # So far down the gain is no longer slow; bare clicks need that.
        return integrated_lufs(samples), true_peak_dbtp(samples)
    return loudness, _decibels(float((peaks * np.maximum(edges[:-1], edges[1:])).max()))


def _block_energies(samples: Samples) -> Curve:
    """Give the weighted energy of each whole block, channels added.

    The audio is filtered in pieces: memory that is used again is far faster than fresh
    memory for the whole.
    """
    sections = np.array(_K_SECTIONS)
    state = np.zeros((len(sections), 2, 2))
    whole = len(samples) // BLOCK * BLOCK
    energies = np.zeros(whole // BLOCK)
    for start in range(0, whole, _PIECE):
        piece = samples[start : min(start + _PIECE, whole)].T
        weighted, state = sosfilt(sections, piece, axis=1, zi=state)
        blocks = weighted.reshape(2, -1, BLOCK)
        place = start // BLOCK
        energies[place : place + blocks.shape[1]] = np.einsum("cbi,cbi->b", blocks, blocks)
    return energies / BLOCK


def _gated_lufs(block_energies: Curve) -> float:
    """Turn the energies of blocks into integrated loudness."""
    steps = len(block_energies) // _STEP_BLOCKS
    if steps < 4:
        return -math.inf
    energy = block_energies[: steps * _STEP_BLOCKS].reshape(steps, -1).mean(axis=1)
    # 400 ms that overlap by three quarters, out of steps of 100 ms.
    spans = (energy[:-3] + energy[1:-2] + energy[2:-1] + energy[3:]) / 4
    # 0.691 is BS.1770's: it takes off what the K-weighting adds at 1 kHz.
    loud = spans[spans > 10 ** ((_SILENCE_LUFS + 0.691) / 10)]
    if not len(loud):
        return -math.inf
    # A tenth of the energy is 10 LU below.
    gated = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(gated.mean()))


def _decibels(peak: float) -> float:
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def _limiter(peaks: NDArray[np.float32], ceiling: float) -> Curve:
    """Say how far to turn down at the edges of the blocks, smoothly around each peak.

    Between two edges the gain is a straight line; it is nowhere higher than the peak of
    the block allows.
    """
    needed = np.minimum(1.0, ceiling / np.maximum(peaks, 1e-9), dtype=np.float64)
    width = 2 * _LOOKAHEAD_BLOCKS + 1
    # Each dip is held as wide as the two means behind it reach, so that no peak slips by.
    held = minimum_filter1d(needed, 2 * width + 1, mode="nearest")
    smooth = uniform_filter1d(uniform_filter1d(held, width), width)
    edges: Curve = np.minimum(np.append(smooth[:1], smooth), np.append(smooth, smooth[-1:]))
    return edges


def _amplify(samples: Samples, edges: Curve) -> None:
    """Multiply, the gain going in a straight line from edge to edge of the blocks."""
    whole = len(samples) // BLOCK
    blocks = samples[: whole * BLOCK].reshape(whole, 2 * BLOCK)
    ramp = np.repeat((np.arange(BLOCK, dtype=np.float32) + 0.5) / BLOCK, 2)
    rises = np.diff(edges).astype(np.float32)[:, None]
    starts = edges.astype(np.float32)[:, None]
    for first in range(0, whole, _STEP_BLOCKS):
        some = slice(first, min(first + _STEP_BLOCKS, whole))
        blocks[some] *= starts[some] + rises[some] * ramp
    samples[whole * BLOCK :] *= starts[whole]
