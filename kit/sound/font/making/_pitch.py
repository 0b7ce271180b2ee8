"""At which pitch does a recording sound, from moment to moment, and in which octave?

Pitch is the lag at which a stretch of six periods agrees best with itself, looked for
within a semitone and a half of what is expected. The octave below is heard where energy
lies halfway between the harmonics.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["deviation_cents", "octave_below_db", "window_points"]

Wave = NDArray[np.float64]

_PERIODS = 6
_NEAR = 1.09
"""A ratio of a semitone and a half."""
_WINDOW_PERIODS = 8
_HARMONICS = 6
_HALF_WIDTH = 0.12
"""Of a band about a harmonic, in harmonics."""


def deviation_cents(wave: Wave, rate_hz: float, expected_hz: float) -> tuple[float, float]:
    """Give how far a stretch is from the pitch expected, and how periodic it is.

    Parameters
    ----------
    wave : float array, shape (points,)
        `_PERIODS` periods and a half are enough; more are averaged.
    rate_hz : float
        Points a second.
    expected_hz : float
        The pitch it should have.

    Returns
    -------
    (float, float)
        Cents above it, and the correlation at that lag, at most 1.
    """
    wave = wave - wave.mean()
    period = rate_hz / expected_hz
    least, most = int(period / _NEAR), min(math.ceil(period * _NEAR), len(wave) - 2)
    lags = np.arange(max(1, least), most + 1)
    if len(lags) < 3:
        return 0.0, 0.0
    likeness = np.array([_likeness(wave, int(lag)) for lag in lags])
    best = int(np.argmax(likeness[1:-1])) + 1
    before, at, after = likeness[best - 1 : best + 2]
    bend = before - 2 * at + after
    lag = lags[best] + ((before - after) / (2 * bend) if bend else 0.0)
    return 1200 * math.log2(period / lag), float(at)


def _likeness(wave: Wave, lag: int) -> float:
    first, second = wave[:-lag], wave[lag:]
    energy = float(np.sqrt(np.dot(first, first) * np.dot(second, second)))
    return float(np.dot(first, second)) / energy if energy else 0.0


def octave_below_db(wave: Wave, rate_hz: float, expected_hz: float) -> float:
    """Give the level between the harmonics against that on them, in decibels.

    Parameters
    ----------
    wave : float array, shape (points,)
        Eight periods or more.
    rate_hz, expected_hz : float
        As for `deviation_cents`.
    """
    padded = 8 * len(wave)
    power = np.abs(np.fft.rfft((wave - wave.mean()) * np.hanning(len(wave)), padded)) ** 2
    place = np.asarray(np.fft.rfftfreq(padded, 1 / rate_hz), np.float64) / expected_hz
    on = math.fsum(_band(power, place, h) for h in range(1, _HARMONICS + 1))
    between = math.fsum(_band(power, place, h - 0.5) for h in range(1, _HARMONICS + 1))
    return 10 * math.log10((between + 1e-12) / (on + 1e-9))


def _band(power: Wave, place: Wave, harmonic: float) -> float:
    return float(power[np.abs(place - harmonic) < _HALF_WIDTH].sum())


def window_points(rate_hz: float, pitch_hz: float) -> int:
    """Give how long a stretch is for `octave_below_db`."""
    return math.ceil(_WINDOW_PERIODS * rate_hz / pitch_hz)
