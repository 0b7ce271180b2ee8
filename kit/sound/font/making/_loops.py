"""How does a held tone live, whose recording ends after half a second?

FluidR3's clarinet, trombone and tuba repeat a loop of 1 to 48 ms, which is one wave and
nothing more. Here the wave is taken apart into its harmonics, and put together again for a
second and a half in which each of them, and the pitch a little, waver as with a player. The
wavering begins and ends at nothing, so the long loop joins what was recorded, and itself.

Depths are ours: a held tone of a wind player wavers by some cents and by about a decibel
(common practice of synthesis).
"""

from __future__ import annotations

import hashlib
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from kit.sound.font.making._tones import Tone, as_words

__all__ = ["SHORTEST_LOOP_S", "lengthened"]

Wave = NDArray[np.float64]

SHORTEST_LOOP_S = 0.15
_LENGTH_S = 1.5
_SLOWEST, _FASTEST = 1, 9
"""Waverings in one long loop: 0.7 to 6 a second."""
_CENTS = 3.0
_COMMON_DB, _OWN_DB, _MOST_DB = 0.3, 0.12, 1.6
_SILENT = 1e-5
_BREATH = 0.004
_BREATH_HZ = (600.0, 5000.0)
_GUARD = 8
"""Points behind a loop, which a player of the font reads while it goes round."""


def lengthened(tone: Tone) -> Tone:
    """Give a tone a long loop, if its own is too short to be more than one wave."""
    sample = tone.sample
    first, last = sample.loop
    if last - first >= SHORTEST_LOOP_S * sample.rate_hz:
        return tone
    wave = sample.data[first:last].astype(np.float64)
    rate = sample.rate_hz
    # So many whole periods that the pitch comes out to a hundredth of a cent: a loop of few
    # points cannot be in tune.
    periods = round(_LENGTH_S * tone.recorded_hz)
    count = round(periods * rate / tone.recorded_hz)
    once = max(1, round(tone.recorded_hz * len(wave) / rate))
    held = _held(wave, once, periods, count, sample.name)
    level = float(np.sqrt(np.square(wave).mean()))
    held += level * _breath(count, rate, sample.name)
    data = np.concatenate((sample.data[:first].astype(np.float64), held, held[:_GUARD]))
    loop = (first, first + count)
    return replace(tone, sample=replace(sample, data=as_words(data), loop=loop))


def _held(wave: Wave, once: int, periods: int, count: int, name: str) -> Wave:
    """Play the harmonics of a wave, which has `once` periods, for `periods` of them."""
    spectrum = np.fft.rfft(wave) / len(wave)
    drift = np.log(2) / 1200 * _CENTS * _wavering(count, f"{name} pitch")
    # The sum of a changing speed is a changing phase; without the mean it comes round.
    late = np.cumsum(drift - drift.mean())
    common = _COMMON_DB * _wavering(count, f"{name} level")
    held: Wave = np.full(count, float(spectrum[0].real))
    now = (np.arange(count) + late) / count
    strongest = float(np.abs(spectrum[1:]).max())
    for place in range(1, len(spectrum)):
        size = abs(spectrum[place])
        if size < _SILENT * strongest:
            continue
        harmonic = place / once
        depth = min(_MOST_DB, _OWN_DB * max(1.0, harmonic))
        level = common + depth * _wavering(count, f"{name} {place}")
        turns = round(harmonic * periods)
        share = 1 if 2 * place == len(wave) else 2
        angle = 2 * np.pi * turns * now + np.angle(spectrum[place])
        held += share * size * 10 ** (level / 20) * np.cos(angle)
    return held


def _wavering(count: int, name: str) -> Wave:
    """Give a slow curve of size 1 that comes round to 0 after `count` points."""
    turn = 2 * np.pi * np.arange(count) / count
    curve = np.zeros(count)
    for times, chance in zip(
        range(_SLOWEST, _FASTEST + 1), _chances(name, _FASTEST), strict=False
    ):
        curve += np.cos(times * turn + 2 * np.pi * chance) / np.sqrt(times)
    curve = np.roll(curve, -int(np.argmin(np.abs(curve))))
    return np.asarray((curve - curve[0]) / np.sqrt(np.square(curve).mean()))


def _breath(count: int, rate: int, name: str) -> Wave:
    """Give noise that comes round after `count` points; its size is `_BREATH`."""
    places = np.fft.rfftfreq(count, 1 / rate)
    heard = (places > _BREATH_HZ[0]) & (places < _BREATH_HZ[1])
    spectrum = np.zeros(len(places), complex)
    turns = np.array(_chances(f"{name} breath", int(heard.sum())))
    spectrum[heard] = np.exp(2j * np.pi * turns) / np.sqrt(places[heard])
    noise = np.fft.irfft(spectrum, count)
    return noise * (_BREATH / float(np.sqrt(np.square(noise).mean())))


def _chances(name: str, count: int) -> list[float]:
    """Give numbers from 0 to 1 that look like chance and are the same everywhere."""
    digest = hashlib.shake_256(name.encode()).digest(4 * count)
    return [float(word) / 2**32 for word in np.frombuffer(digest, "<u4")]
