"""How high does the sound rise, between the samples too?

The *true peak* after ITU-R BS.1770-4, annex 2: audio is interpolated four times as densely,
here by a sinc under a Kaiser window that reaches ten samples to either side. It is given
for each *block* of one millisecond, which is the grid of the limiter.

Samples are float32, shape (samples, 2), full scale 1.0.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Samples = NDArray[np.float32]

__all__ = ["BLOCK", "block_peaks", "true_peak_dbtp"]

BLOCK = 48
"""Samples in a millisecond."""
RISE = 0.7
"""No tone up to a quarter of the sample rate rises by more than 3 dB between samples."""

_OVERSAMPLING = 4
_REACH = 10
_PIECE_BLOCKS = 1000
_KAISER_BETA = 5.0
_AT_ONCE = 25
"""Blocks; so few that the matrix library starts no threads, which would cost more."""


def true_peak_dbtp(samples: Samples) -> float:
    """Measure the true peak in dBTP; minus infinity for silence."""
    peak = float(block_peaks(samples).max(initial=0.0))
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def block_peaks(samples: Samples, *, limit: float = math.inf) -> NDArray[np.float32]:
    """Give the true peak of each block, a shorter one at the end counted in.

    Parameters
    ----------
    samples : float32 array, shape (samples, 2)
        The audio.
    limit : float
        What is of interest besides the highest peak: every block that may rise above it
        is interpolated. The others, and the first and the last, count by their samples.

    Returns
    -------
    float32 array, shape (blocks,)
    """
    peaks = _sample_peaks(samples)
    floor = max(RISE * min(limit, float(peaks.max(initial=0.0))), 1e-9)
    high = np.flatnonzero(peaks[1 : len(samples) // BLOCK - 1] > floor) + 1
    for start in range(0, len(high), _AT_ONCE):
        some = high[start : start + _AT_ONCE]
        peaks[some] = np.maximum(peaks[some], _between_samples(samples, some))
    return peaks


def _sample_peaks(samples: Samples) -> NDArray[np.float32]:
    whole = len(samples) // BLOCK
    blocks = samples[: whole * BLOCK].reshape(whole, 2 * BLOCK)
    peaks = np.zeros(-(-len(samples) // BLOCK), np.float32)
    for first in range(0, whole, _PIECE_BLOCKS):
        some = slice(first, min(first + _PIECE_BLOCKS, whole))
        peaks[some] = np.abs(blocks[some]).max(axis=1)
    peaks[whole:] = np.abs(samples[whole * BLOCK :]).max(initial=0.0)
    return peaks


def _between_samples(samples: Samples, blocks: NDArray[np.int64]) -> NDArray[np.float32]:
    """Give the highest values between the samples of some blocks, all at one stroke."""
    matrix = _interpolation()
    # Rows of left and right in turn, from _REACH - 1 samples before to _REACH behind.
    rows = sliding_window_view(samples.reshape(-1), 2 * len(matrix))
    around = rows[2 * (blocks * BLOCK - (_REACH - 1))]
    left, right = around[:, 0::2] @ matrix, around[:, 1::2] @ matrix
    found: NDArray[np.float32] = np.maximum(np.abs(left), np.abs(right)).max(axis=1)
    return found


@cache
def _interpolation() -> NDArray[np.float32]:
    """Build the matrix from a block and its surroundings to the values between samples."""
    taps = np.arange(1 - _REACH, _REACH + 1)
    matrix = np.zeros((BLOCK + 2 * _REACH - 1, (_OVERSAMPLING - 1) * BLOCK), np.float32)
    for part in range(1, _OVERSAMPLING):
        away = taps - part / _OVERSAMPLING
        window = np.i0(_KAISER_BETA * np.sqrt(1 - (away / _REACH) ** 2)) / np.i0(
            _KAISER_BETA
        )
        weights = np.sinc(away) * window
        for place in range(BLOCK):
            column = (part - 1) * BLOCK + place
            # The weights add up to 1: what is constant stays as high as it is.
            matrix[place : place + len(taps), column] = weights / weights.sum()
    return matrix
