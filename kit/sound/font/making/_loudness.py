"""How loud is a recording, as it sounds at its key? By the filters of BS.1770."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["level_db", "lost_on_small_speakers_db"]

Wave = NDArray[np.float64]

_SHELF_DB, _SHELF_HZ, _LOW_HZ = 4.0, 1650.0, 40.0
_SPEAKER_HZ, _SPEAKER_ORDER = 250.0, 4


def level_db(wave: Wave, rate_hz: float) -> float:
    """Give the loudness in decibels, from an origin of its own.

    Parameters
    ----------
    wave : float array, shape (points,)
        One channel.
    rate_hz : float
        Points a second, as it is played.
    """
    power, _ = _weighted(wave, rate_hz)
    return 10 * math.log10(float(power.sum()) + 1e-9)


def lost_on_small_speakers_db(wave: Wave, rate_hz: float) -> float:
    """Give how much less loud it is on a loudspeaker that begins at 250 Hz."""
    power, heard = _weighted(wave, rate_hz)
    steep = (heard / _SPEAKER_HZ) ** (2 * _SPEAKER_ORDER)
    left = power * steep / (1 + steep)
    return 10 * math.log10(float(power.sum()) / float(left.sum()))


def _weighted(wave: Wave, rate_hz: float) -> tuple[Wave, Wave]:
    power = np.abs(np.fft.rfft(wave * np.hanning(len(wave)))) ** 2 / len(wave) ** 2
    heard = np.asarray(np.fft.rfftfreq(len(wave), 1 / rate_hz), np.float64)
    shelf = _SHELF_DB * heard**2 / (heard**2 + _SHELF_HZ**2)
    low = heard**4 / (heard**4 + _LOW_HZ**4)
    return power * 10 ** (shelf / 10) * low, heard
