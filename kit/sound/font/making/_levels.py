"""Are neighbouring notes of an instrument as loud as each other?

In FluidR3 some samples stand out by 6 dB from the next. Each is brought to the straight
line through the levels of all, so an instrument still grows (or fades) from its low notes
to its high ones as it did.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from kit.sound.font.making._loudness import level_db
from kit.sound.font.making._tones import Tone

__all__ = ["evened"]

_HELD_S = (0.1, 0.7)
_MOST_DB = 8.0
_FULL = 32_000


def evened(tones: Sequence[Tone]) -> tuple[Tone, ...]:
    """Bring each tone of a program to the line through the levels of all of them."""
    if len(tones) < 3:
        return tuple(tones)
    keys = np.array([tone.key for tone in tones], dtype=float)
    levels = np.array([_level_db(tone) for tone in tones])
    slope, start = np.polyfit(keys, levels, 1)
    gains = np.clip(slope * keys + start - levels, -_MOST_DB, _MOST_DB)
    # Softer as a whole, if one of them would be too loud for its numbers.
    room = [
        20 * math.log10(_FULL / int(np.abs(t.sample.data.astype(int)).max())) for t in tones
    ]
    gains -= max(0.0, float((gains - room).max()))
    return tuple(_louder(tone, float(db)) for tone, db in zip(tones, gains, strict=True))


def _louder(tone: Tone, gain_db: float) -> Tone:
    data = np.rint(tone.sample.data * 10 ** (gain_db / 20)).astype("<i2")
    return replace(tone, sample=replace(tone.sample, data=data))


def _level_db(tone: Tone) -> float:
    rate, end = tone.sample.rate_hz, tone.sample.loop[1]
    start, stop = (round(s * rate) for s in _HELD_S)
    start = max(0, min(start, end - rate // 10))
    wave = tone.sample.data[start : min(stop, end)].astype(np.float64)
    return level_db(wave, rate * tone.speed)
