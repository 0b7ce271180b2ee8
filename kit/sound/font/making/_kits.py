"""What is done to the sounds of percussion kits? They are as recorded but for this.

They end after some seconds, as no stroke of the kit's rings longer; the bass drum is heard
on small loudspeakers; and left and right are moved together where they would cancel each
other in one loudspeaker.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from kit.sound.font.making._low_end import Treatment, audible_on_small_speakers
from kit.sound.font.making._tones import as_words
from kit.sound.font.riff import (
    INSTRUMENT,
    SAMPLE_ID,
    Font,
    Instrument,
    Sample,
    Zone,
)

__all__ = ["kits_of"]

_PERCUSSION = 128
_PAN = 17
_SIDE_DB = -8.0
"""Of what differs between the channels, against what they share: costs 0.6 dB in mono."""
_FADE_S = 0.25


def kits_of(
    font: Font,
    programs: Collection[int],
    *,
    keys: tuple[int, int],
    kicks: Sequence[int],
    low: Treatment,
    longest_s: float,
) -> Font:
    """Give the kits of a font, their sounds made ready.

    Parameters
    ----------
    font : Font
        The source.
    programs : collection of int
        Numbers of kits.
    keys : (int, int)
        Lowest and highest key that is kept.
    kicks : sequence of int
        Keys of bass drums.
    low : Treatment
        For those.
    longest_s : float
        Longer sounds are faded and end there.
    """
    presets = tuple(
        p for p in font.presets if p.bank == _PERCUSSION and p.program in programs
    )
    used = {zone.get(INSTRUMENT) for p in presets for zone in p.zones} - {None}
    samples = list(font.samples)
    instruments = list(font.instruments)
    pairs: set[tuple[int, ...]] = set()
    deep: set[int] = set()
    for place in sorted(place for place in used if place is not None):
        zones = tuple(z for z in instruments[place].zones if _is_kept(z, keys))
        instruments[place] = Instrument(instruments[place].name, zones)
        by_keys: dict[tuple[int, int], list[Zone]] = {}
        for zone in zones:
            if zone.get(SAMPLE_ID) is not None:
                by_keys.setdefault(zone.keys(), []).append(zone)
        for (first, last), both in by_keys.items():
            found = [z.get(SAMPLE_ID) or 0 for z in both]
            pairs.add(tuple(sorted(found, key=lambda i: font.samples[i].name)))
            if first == last and first in kicks:
                deep.update(found)
    for place in {place for pair in pairs for place in pair}:
        samples[place] = _ended(samples[place], longest_s)
        if place in deep:
            samples[place] = audible_on_small_speakers(samples[place], low)
    for pair in sorted(pairs):
        if len(pair) == 2:
            left, right = pair
            samples[left], samples[right] = _nearer(samples[left], samples[right])
    return replace(
        font, presets=presets, instruments=tuple(instruments), samples=tuple(samples)
    )


def _is_kept(zone: Zone, keys: tuple[int, int]) -> bool:
    low, high = zone.keys()
    return zone.get(SAMPLE_ID) is None or (high >= keys[0] and low <= keys[1])


def _ended(sample: Sample, longest_s: float) -> Sample:
    count = round(longest_s * sample.rate_hz)
    if len(sample.data) <= count:
        return sample
    data = sample.data[:count].astype(np.float64)
    fade = round(_FADE_S * sample.rate_hz)
    data[-fade:] *= np.linspace(1, 0, fade)
    first, last = sample.loop
    # What does not loop has loop points all the same; they lie within the sound.
    loop = sample.loop if last <= count else (min(first, count - 9), count - 8)
    return replace(sample, data=as_words(data), loop=loop)


def _nearer(left: Sample, right: Sample) -> tuple[Sample, Sample]:
    if len(left.data) != len(right.data):
        return left, right
    first, second = left.data.astype(np.float64), right.data.astype(np.float64)
    middle, side = (first + second) / 2, (first - second) / 2
    shared, own = float(np.square(middle).sum()), float(np.square(side).sum())
    most = shared * 10 ** (_SIDE_DB / 10)
    if not shared or own <= most:
        return left, right
    side *= math.sqrt(most / own)
    level = math.sqrt((shared + own) / (shared + most))
    peak = max(float(np.abs(w).max()) for w in (middle + side, middle - side)) * level
    level *= min(1.0, 32_000 / peak)
    return (
        replace(left, data=np.rint((middle + side) * level).astype("<i2")),
        replace(right, data=np.rint((middle - side) * level).astype("<i2")),
    )
