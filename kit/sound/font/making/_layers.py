"""How do tones become presets: soft notes darker, slurred ones without an attack?

Each band of velocities has an instrument of its own whose filter opens so many harmonics
above the note: a wind player who blows harder adds upper partials before all else (Benade,
*Fundamentals of Musical Acoustics*, 1976, from memory). Slurred copies stand in bank 1 and
begin inside the tone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kit.sound.font.making._tones import CUTOFF, LOOP_MODE, Tone, hertz
from kit.sound.font.riff import INSTRUMENT, KEY_RANGE, SAMPLE_ID, Instrument, Sample, Zone

__all__ = [
    "Brightness",
    "Layer",
    "instrument_zones",
    "layers",
    "named_instrument",
    "sample_places",
    "slurred",
]

_VELOCITIES = 44
_ROOT, _COARSE, _FINE = 58, 51, 52
_START, _START_COARSE = 0, 4
_ENVELOPE = {"delay": 33, "attack": 34, "hold": 35, "decay": 36}
_TO_FILTER = (11, 25, 26, 27, 28, 29, 30)
"""Modulation envelope and what it does to the filter: it would open it by itself."""
_OPEN_CENTS = 13_500
_LOWEST_HZ = 8.176
_SLUR_START_S, _SLUR_ATTACK_S = 0.18, 0.03


@dataclass(frozen=True, slots=True)
class Brightness:
    """Velocities up to which a layer goes, and the harmonics that its filter lets through.

    The last layer has none: it is as recorded. No filter closes below `least_hz`.
    """

    velocities: tuple[int, ...]
    harmonics: tuple[float, ...]
    least_hz: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Layer:
    """An instrument for a band of velocities."""

    low: int
    high: int
    zones: tuple[Zone, ...]


def layers(
    tones: Sequence[Tone], brightness: Brightness | None, places: Mapping[int, int]
) -> list[Layer]:
    """Give a program's layers.

    Parameters
    ----------
    tones : sequence of Tone
        Its tones.
    brightness : Brightness, optional
        None: one layer.
    places : mapping of int to int
        From `id` of a sample to its index in the font.
    """
    if brightness is None:
        return [Layer(0, 127, tuple(_zone(tone, places, None) for tone in tones))]
    found, low = [], 0
    for place, high in enumerate((*brightness.velocities, 127)):
        cut = (
            (brightness.harmonics[place], brightness.least_hz[place])
            if place < len(brightness.harmonics)
            else None
        )
        found.append(Layer(low, high, tuple(_zone(tone, places, cut) for tone in tones)))
        low = high + 1
    return found


def instrument_zones(
    made: Iterable[tuple[Layer, int]], general: Mapping[int, int]
) -> tuple[Zone, ...]:
    """Give a preset's zones that lead to its layers by their places among instruments."""
    rows = tuple(general.items())
    return tuple(
        Zone(
            (
                *([(_VELOCITIES, layer.low | layer.high << 8)] if layer.high - layer.low <
                127
                  else []),
                *rows,
                (INSTRUMENT, place),
            )
        )
        for layer, place in made
    )  # fmt: skip


def slurred(tones: Sequence[Tone]) -> list[Tone]:
    """Give tones that begin after their attack, as under a slur."""
    return [_without_attack(tone) for tone in tones]


def _without_attack(tone: Tone) -> Tone:
    sample = tone.sample
    start = round(_SLUR_START_S * sample.rate_hz)
    # Not behind the loop: some players of fonts never come back into it.
    start = max(0, min(start, sample.loop[0] - 16))
    kept = {n: a for n, a in tone.generators.items() if n not in _ENVELOPE.values()}
    envelope = {
        _ENVELOPE["delay"]: _time_cents(0.001),
        _ENVELOPE["attack"]: _time_cents(_SLUR_ATTACK_S),
        _ENVELOPE["hold"]: _time_cents(0.001),
        _ENVELOPE["decay"]: _time_cents(0.001),
    }
    shift = {_START: start % 32768, _START_COARSE: start // 32768}
    return Tone(
        tone.low, tone.high, sample, tone.root, tone.cents, {**kept, **envelope, **shift}
    )


def _time_cents(seconds: float) -> int:
    return round(1200 * math.log2(seconds)) & 0xFFFF


def _zone(tone: Tone, places: Mapping[int, int], cut: tuple[float, float] | None) -> Zone:
    generators = dict(tone.generators)
    if cut is not None:
        for number in _TO_FILTER:
            generators.pop(number, None)
        harmonics, least_hz = cut
        edge_hz = max(harmonics * hertz(tone.key), least_hz)
        cents = round(1200 * math.log2(edge_hz / _LOWEST_HZ))
        generators[CUTOFF] = min(cents, generators.get(CUTOFF, _OPEN_CENTS), _OPEN_CENTS)
    coarse = round(tone.cents / 100)
    fine = round(tone.cents - 100 * coarse)
    generators |= {_ROOT: tone.root, _COARSE: coarse & 0xFFFF, _FINE: fine & 0xFFFF}
    generators.setdefault(LOOP_MODE, 0)
    rows = ((n, generators[n]) for n in sorted(generators) if generators[n] or n == _ROOT)
    return Zone(
        (
            (KEY_RANGE, tone.low | tone.high << 8),
            *rows,
            (SAMPLE_ID, places[id(tone.sample)]),
        )
    )


def named_instrument(name: str, layer: Layer) -> Instrument:
    """Name a layer's instrument after its program and its velocities."""
    band = "" if layer.high - layer.low == 127 else f" {layer.low}"
    return Instrument(f"{name[: 19 - len(band)]}{band}", layer.zones)


def sample_places(samples: Iterable[Sample], first: int) -> dict[int, int]:
    """Give samples their numbers, by `id`."""
    return {id(sample): first + place for place, sample in enumerate(samples)}
