"""Is there a place in a SoundFont where a synthesiser would read beyond its sound?

Not every synthesiser looks: one reads what lies there, another stops the program. Judged is
what is played, each zone with what its preset adds. A loop must be as long as the step from
one point to the next of the highest note, or whoever goes round in it never comes back.

Source: SoundFont 2.04 specification, sections 7.10 and 8.1.2 (generators 0 to 7, 12, 45, 50
to 58); 8.1.3 for what they are without.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from kit.sound.font.riff import INSTRUMENT, KEY_RANGE, SAMPLE_ID, Font, Sample, Zone, signed

__all__ = ["damage"]

_START, _END = (0, 4), (1, 12)
_LOOP_START, _LOOP_END = (2, 45), (3, 50)
"""Generators that move an address by points, and by 32,768 of them."""
_COARSE_POINTS = 32_768
_TO_PITCH = (5, 6, 7)
"""How far two oscillators and an envelope bend a note, in cents."""
_COARSE, _FINE, _MODE, _SCALE, _ROOT = 51, 52, 54, 56, 58
_SUMMED = (*_TO_PITCH, _COARSE, _FINE, _SCALE)
"""What a preset's zone adds to an instrument's."""
_IN_ROM, _PACKED = 0x8000, 0x10
_LOOPS = (1, 3)
_ALL_KEYS = 0x7F00
_USUAL = {_SCALE: 100, KEY_RANGE: _ALL_KEYS}
_GAP = 46
"""Silent points behind every sample, which `kit.sound.font.riff` writes."""
_HIGHEST_KEY = 108
"""C8: no instrument of the kit goes beyond."""
_LOWEST_RATE_HZ, _FASTEST_HZ = 48_000, 400_000


def damage(font: Font) -> str:
    """Say what is wrong with the sounds of a font's presets, nothing if all is well."""
    for zone, sample in _played(font):
        if sample.kind & _PACKED:
            return "holds packed samples (.sf3), which the synthesiser cannot read"
        if sample.kind & _IN_ROM:
            return "wants sounds that a sound card once had in it"
        if not 0 < sample.rate_hz <= _FASTEST_HZ:
            return "is damaged: a sample has no rate that can be played"
        if not _lies_within(zone, sample):
            return "is damaged: a sample lies outside of its sound data"
        if zone.get(_MODE, 0) & 3 in _LOOPS and not _goes_round(zone, sample):
            return "is damaged: a loop is too short or outside of its sample"
    return ""


def _played(font: Font) -> Iterator[tuple[Mapping[int, int], Sample]]:
    """Give each sample that is played, with the sums of its generators, signed."""
    seen = set()
    for preset in font.presets:
        for of_all, zone in _with_general(preset.zones, INSTRUMENT):
            added = {**of_all, **dict(zone.generators)}
            place = added[INSTRUMENT]
            bend = tuple(signed(added.get(n, 0)) for n in _SUMMED)
            keys = added.get(KEY_RANGE, _ALL_KEYS)
            if (place, bend, keys) in seen:
                continue
            seen.add((place, bend, keys))
            for general, local in _with_general(font.instruments[place].zones, SAMPLE_ID):
                own = {**_USUAL, **general, **dict(local.generators)}
                total = {n: signed(a) for n, a in own.items()}
                for n, more in zip(_SUMMED, bend, strict=True):
                    total[n] = total.get(n, 0) + more
                total[KEY_RANGE] = _shared(own[KEY_RANGE], keys)
                yield total, font.samples[own[SAMPLE_ID]]


def _shared(one: int, other: int) -> int:
    low = max(one & 0xFF, other & 0xFF)
    return low | min(one >> 8, other >> 8) << 8


def _with_general(
    zones: tuple[Zone, ...], leading: int
) -> Iterator[tuple[dict[int, int], Zone]]:
    general: dict[int, int] = {}
    for zone in zones:
        if zone.get(leading) is None:
            general = dict(zone.generators)
        else:
            yield general, zone


def _moved(zone: Mapping[int, int], numbers: tuple[int, int]) -> int:
    fine, coarse = numbers
    return zone.get(fine, 0) + _COARSE_POINTS * zone.get(coarse, 0)


def _lies_within(zone: Mapping[int, int], sample: Sample) -> bool:
    start = _moved(zone, _START)
    end = len(sample.data) + _moved(zone, _END)
    return 0 <= start <= end < len(sample.data) + _GAP


def _goes_round(zone: Mapping[int, int], sample: Sample) -> bool:
    first = sample.loop[0] + _moved(zone, _LOOP_START)
    last = sample.loop[1] + _moved(zone, _LOOP_END)
    if not 0 <= first < last < len(sample.data) + _GAP:
        return False
    root = zone.get(_ROOT, -1)
    root = sample.key if root < 0 else root
    cents = (
        max((key - root) * zone[_SCALE] for key in _outermost_keys(zone[KEY_RANGE]))
        + 100 * zone.get(_COARSE, 0)
        + zone.get(_FINE, 0)
        + sample.correction
        + sum(abs(zone.get(n, 0)) for n in _TO_PITCH)
    )
    octaves = cents / 1200 + math.log2(sample.rate_hz / _LOWEST_RATE_HZ)
    return octaves <= math.log2(last - first)


def _outermost_keys(both: int) -> tuple[int, int]:
    low, high = both & 0xFF, (both & 0xFFFF) >> 8
    return low, min(high, _HIGHEST_KEY)
