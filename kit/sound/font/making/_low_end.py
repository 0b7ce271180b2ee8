"""How is a bass heard on a loudspeaker that has no bass? By its harmonics.

The loudspeaker of a telephone begins at some 250 Hz. What it leaves of a bass are the upper
harmonics, and the ear hears the fundamental among them all the same (the missing
fundamental, Schouten 1940, from memory). FluidR3's plucked basses have little there, its
bass drums next to nothing. So what they have above 200 Hz is raised, and harmonics computed
from the sound itself are added: clipped at a drive that follows its level, so that the
colour is the same loud and soft, and leaning to one side, so that there are even ones as
well. As much is added as it takes to lose no more loudness than is said.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, lfilter, sosfiltfilt

from kit.sound.font.making._loudness import lost_on_small_speakers_db
from kit.sound.font.making._tones import as_words
from kit.sound.font.riff import Sample

__all__ = ["Treatment", "audible_on_small_speakers"]

Wave = NDArray[np.float64]

_RAISED_HZ = (200.0, 3500.0)
_ADDED_HZ = (200.0, 1400.0)
_FOLLOWS_S = 0.03
_FLOOR = 0.02
_ROUNDS = 3
_JUDGED_S = 0.6
_MOST_ADDED = 6.0
_STEPS = 24


@dataclass(frozen=True, slots=True)
class Treatment:
    """Decibels of what is there; drive and lean of the clipping; the loss allowed."""

    raised_db: float
    drive: float
    lean: float
    lost_db: float


def audible_on_small_speakers(sample: Sample, how: Treatment, speed: float = 1.0) -> Sample:
    """Give a sample with more above 250 Hz.

    Its loop goes round a few times before the filters, so that the new one, further on,
    joins itself as the old one did.

    Parameters
    ----------
    sample : Sample
        One channel.
    how : Treatment
        How much.
    speed : float
        How much faster than recorded it is played.
    """
    first, last = sample.loop
    once = last - first
    wave = sample.data.astype(np.float64) / 32768
    loops = once > 8
    if loops:
        wave = np.concatenate((wave[:last], *[wave[first:last]] * _ROUNDS))
    changed = _changed(wave, sample.rate_hz * speed, how)
    loop = sample.loop
    if loops:
        loop = (last, last + once)
        changed = changed[: loop[1] + 8]
    return replace(sample, data=as_words(changed * 32768), loop=loop)


def _changed(wave: Wave, rate: float, how: Treatment) -> Wave:
    keeps = np.exp(-1 / (_FOLLOWS_S * rate))
    power = lfilter([1 - keeps], [1, -keeps], np.square(wave))
    level = np.sqrt(np.maximum(power, 1e-8)) * np.sqrt(2)
    follows = wave / (level + _FLOOR * float(np.abs(wave).max()))
    clipped = np.tanh(how.drive * (follows + how.lean)) * level
    raised = wave + (10 ** (how.raised_db / 20) - 1) * _band(wave, _RAISED_HZ, rate)
    harmonics = _band(clipped, _ADDED_HZ, rate)
    judged = slice(0, round(_JUDGED_S * rate))
    least, most = 0.0, _MOST_ADDED
    for _ in range(_STEPS):
        added = (least + most) / 2
        lost = lost_on_small_speakers_db((raised + added * harmonics)[judged], rate)
        least, most = (added, most) if lost > how.lost_db else (least, added)
    return raised + most * harmonics


def _band(wave: Wave, edges_hz: tuple[float, float], rate: float) -> Wave:
    low, high = edges_hz
    sections = butter(2, [low, min(high, 0.45 * rate)], "bp", fs=rate, output="sos")
    return np.asarray(sosfiltfilt(sections, wave))
