"""Which recorded sounds does a program use, and for which keys? One channel each.

FluidR3 keeps nearly all of its instruments in stereo. Left and right of one player, played
into one loudspeaker, cancel each other (its piano loses up to 11 dB), and one player stands
in one place. So each pair becomes one channel: the middle of both where they agree, and one
of them where they do not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from kit.sound.font.riff import INSTRUMENT, SAMPLE_ID, Font, Sample, Zone, signed

__all__ = ["COARSE", "CUTOFF", "FINE", "LOOP_MODE", "Tone", "as_words", "hertz", "tones_of"]

Wave = NDArray[np.float64]

CUTOFF, PAN, COARSE, FINE, LOOP_MODE, ROOT = 8, 17, 51, 52, 54, 58
_VELOCITIES, _KEYS = 44, 43
_ADDRESSES = (0, 1, 2, 3, 4, 12, 45, 50)
"""Generators that shift start, end and loop."""
_DROPPED = frozenset({PAN, _VELOCITIES, _KEYS, SAMPLE_ID, ROOT, COARSE, FINE, *_ADDRESSES})
_MOST_MONO_LOSS_DB = 1.0
_FULL = 32767


@dataclass(frozen=True, slots=True)
class Tone:
    """A sound for a range of keys.

    Parameters
    ----------
    low, high : int
        MIDI numbers, both included.
    sample : Sample
        One channel.
    root : int
        The MIDI number at which it is played as it was recorded, but for `cents`.
    cents : float
        How much higher than recorded it is to be played.
    generators : mapping of int to int
        Everything else, as in the font; amounts unsigned.
    """

    low: int
    high: int
    sample: Sample
    root: int
    cents: float
    generators: Mapping[int, int] = field(default_factory=dict)

    @property
    def recorded_hz(self) -> float:
        """Pitch of the recording, if the font is in tune."""
        return hertz(self.root - self.cents / 100)

    @property
    def key(self) -> int:
        """The key it was made for: its root, or the nearest to it."""
        return min(max(self.root, self.low), self.high)

    @property
    def speed(self) -> float:
        """How much faster than recorded it is played at `key`."""
        return hertz(self.key) / self.recorded_hz

    def covers(self, low: int, high: int) -> bool:
        """Say whether it is of use between two keys."""
        return self.high >= low and self.low <= high


def hertz(midi: float) -> float:
    """Give the frequency of a MIDI number, A4 = 440 Hz."""
    return 440.0 * 2 ** ((midi - 69) / 12)


def as_words(wave: Wave) -> NDArray[np.int16]:
    """Round to 16 bits; what is too loud for them is made softer as a whole."""
    peak = float(np.abs(wave).max(initial=0.0))
    gain = min(1.0, 0.98 * _FULL / peak) if peak else 1.0
    return np.rint(wave * gain).astype("<i2")


def tones_of(
    font: Font, program: int, lowest: int, highest: int
) -> tuple[dict[int, int], tuple[Tone, ...]]:
    """Give a program's generators and its tones between two keys.

    The outermost tones answer to all keys beyond: whoever plays there hears something.

    Parameters
    ----------
    font : Font
        The source.
    program : int
        In bank 0.
    lowest, highest : int
        MIDI numbers.

    Raises
    ------
    ValueError
        If the program is built in another way than those of FluidR3.
    """
    preset = next(p for p in font.presets if (p.bank, p.program) == (0, program))
    common = (
        dict(preset.zones[0].generators) if preset.zones[0].get(INSTRUMENT) is None else {}
    )
    leading = (z for z in preset.zones if z.get(INSTRUMENT) is not None)
    loudest = [z for z in leading if _reaches_loudest(z)]
    if len(loudest) != 1:
        raise ValueError(f"program {program} has {len(loudest)} instruments at once")
    instrument = font.instruments[loudest[0].get(INSTRUMENT) or 0]
    for zone in (*preset.zones, *instrument.zones):
        if zone.modulators:
            raise ValueError(f"program {program} has modulators, which are not kept")
    shared: dict[int, int] = {}
    pairs: dict[tuple[int, int], list[Zone]] = {}
    for zone in instrument.zones:
        if zone.get(SAMPLE_ID) is None:
            shared = dict(zone.generators)
        elif _reaches_loudest(zone):
            pairs.setdefault(zone.keys(), []).append(zone)
    found = [_tone(font, keys, shared, zones) for keys, zones in sorted(pairs.items())]
    kept = [tone for tone in found if tone.covers(lowest, highest)]
    kept[0] = replace(kept[0], low=0)
    kept[-1] = replace(kept[-1], high=127)
    general = {n: a for n, a in common.items() if n not in _DROPPED}
    return general, tuple(kept)


def _reaches_loudest(zone: Zone) -> bool:
    velocities = zone.get(_VELOCITIES)
    return velocities is None or velocities >> 8 == 127


def _tone(
    font: Font, keys: tuple[int, int], shared: dict[int, int], zones: list[Zone]
) -> Tone:
    of_zone = dict(zones[0].generators)
    generators = {**shared, **of_zone}
    if any(signed(generators.get(n, 0)) for n in _ADDRESSES):
        raise ValueError("a zone that starts elsewhere is not handled")
    halves = sorted(zones, key=lambda zone: signed(zone.get(PAN) or 0))
    sample = _one_channel([font.samples[zone.get(SAMPLE_ID) or 0] for zone in halves])
    root = generators.get(ROOT, sample.key)
    cents = (
        100 * signed(generators.get(COARSE, 0))
        + signed(generators.get(FINE, 0))
        + sample.correction
    )
    kept = {n: a for n, a in generators.items() if n not in _DROPPED}
    return Tone(*keys, sample, sample.key if root == 0xFFFF else root, cents, kept)


def _one_channel(samples: list[Sample]) -> Sample:
    if len(samples) == 1:
        return replace(samples[0], kind=1, link=0)
    if len(samples) != 2 or samples[0].loop != samples[1].loop:
        raise ValueError("a zone of more than two channels is not handled")
    left, right = (s.data.astype(np.float64) for s in samples)
    middle = (left + right) / 2
    both = (np.square(left).sum() + np.square(right).sum()) / 2
    if 10 * math.log10(both / np.square(middle).sum()) <= _MOST_MONO_LOSS_DB:
        chosen = middle
    else:
        chosen = max(left, right, key=lambda channel: float(np.square(channel).sum()))
    # As loud as both were, so that a program's keys stay as loud against each other.
    level = math.sqrt(both / float(np.square(chosen).sum()))
    name = samples[0].name.replace("(L)", "").strip()
    return replace(samples[0], name=name, data=as_words(chosen * level), kind=1, link=0)
