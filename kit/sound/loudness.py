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
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
CEILING_DBTP = -1.5
"""Half a decibel under the promised -1 dBTP: MP3 coding may raise a peak a little."""

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


def k_weighted(samples: Samples) -> NDArray[np.float64]:
    """Filter audio as the ear weighs it (BS.1770 K-weighting, 48 kHz)."""
    import numpy as np
    from scipy.signal import sosfilt

    weighted: NDArray[np.float64] = sosfilt(np.array(_K_SECTIONS), samples, axis=0)
    return weighted


def integrated_lufs(samples: Samples) -> float:
    """Measure integrated loudness in LUFS; minus infinity for silence or under 400 ms."""
    import numpy as np

    step = SAMPLE_RATE_HZ // 10
    steps = len(samples) // step
    if steps < 4:
        return -math.inf
    weighted = k_weighted(samples[: steps * step])
    energy = np.einsum("sij,sij->s", *[weighted.reshape(steps, step, -1)] * 2) / step
    blocks = (energy[:-3] + energy[1:-2] + energy[2:-1] + energy[3:]) / 4
    loud = blocks[blocks > 10 ** ((_SILENCE_LUFS + 0.691) / 10)]
    if not len(loud):
        return -math.inf
    gated = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(gated.mean()))


def true_peak_dbtp(samples: Samples) -> float:
    """Measure the true peak in dBTP; minus infinity for silence."""
    peak = float(_block_peaks(samples, floor=0.5).max(initial=0.0))
    return 20 * math.log10(peak) if peak > 0 else -math.inf


def normalised(
    samples: Samples, *, target_lufs: float = TARGET_LUFS, ceiling_dbtp: float = CEILING_DBTP
) -> tuple[Samples, float, float]:
    """Bring audio to a loudness under a ceiling.

    Returns
    -------
    (samples, lufs, true_peak_dbtp)
        The audio and what was measured on it. Silence stays silence.
    """
    import numpy as np

    loudness = integrated_lufs(samples)
    if loudness == -math.inf:
        return samples, loudness, true_peak_dbtp(samples)
    ceiling = 10 ** (ceiling_dbtp / 20)
    gain_db = target_lufs - loudness
    for _ in range(4):
        result = samples * np.float32(10 ** (gain_db / 20))
        peaks = _block_peaks(result, floor=0.5)
        if peaks.max() <= ceiling:
            measured = target_lufs if gain_db == target_lufs - loudness else None
        else:
            result = _limited(result, peaks, ceiling)
            measured = None
        if measured is None:
            measured = integrated_lufs(result)
        if abs(measured - target_lufs) < 0.1:
            break
        # What the limiter took away is made up for, and limited again.
        gain_db += target_lufs - measured
    return result, measured, true_peak_dbtp(result)


def _block_peaks(samples: Samples, *, floor: float) -> NDArray[np.float64]:
    """Give the true peak of each millisecond.

    Only stretches whose sample peak passes `floor` of the highest are oversampled: between
    samples a signal rises by far less than a factor of two.
    """
    import numpy as np
    from scipy.signal import resample_poly

    count = -(-len(samples) // _BLOCK)
    padded = np.zeros((count * _BLOCK, samples.shape[1]), samples.dtype)
    padded[: len(samples)] = samples
    peaks = np.abs(padded).reshape(count, -1).max(axis=1).astype(np.float64)
    if not count or peaks.max() == 0:
        return peaks
    high = np.flatnonzero(peaks > floor * peaks.max())
    for run in np.split(high, np.flatnonzero(np.diff(high) > 1) + 1):
        first, last = max(0, run[0] - 1), min(count, run[-1] + 2)
        piece = padded[first * _BLOCK : last * _BLOCK]
        fine = np.abs(resample_poly(piece, _OVERSAMPLING, 1, axis=0))
        found = fine.reshape(last - first, -1).max(axis=1)
        inner = slice(run[0] - first, run[-1] - first + 1)
        peaks[run] = np.maximum(peaks[run], found[inner])
    return peaks


def _limited(samples: Samples, peaks: NDArray[np.float64], ceiling: float) -> Samples:
    """Turn the gain down smoothly around each peak above the ceiling."""
    import numpy as np
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    needed = np.minimum(1.0, ceiling / np.maximum(peaks, 1e-9))
    width = 2 * _LOOKAHEAD_BLOCKS + 1
    held = minimum_filter1d(needed, 2 * width + 1, mode="nearest")
    gain = uniform_filter1d(uniform_filter1d(held, width), width)
    places = (np.arange(len(gain)) + 0.5) * _BLOCK
    curve = np.interp(np.arange(len(samples)), places, gain).astype(np.float32)
    return samples * curve[:, None]
