"""Which part of a SoundFont do some presets need? No more is given to the synthesiser.

A synthesiser reads the whole font at every call. A part of it with one preset is read in a
twentieth of the time and sounds the same to the sample.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from kit.sound.font._near import nearest_preset
from kit.sound.font.riff import INSTRUMENT, SAMPLE_ID, Font, Instrument, Preset, Zone

__all__ = ["cut_font", "without_unused"]

_ENOUGH = ((b"ifil", b"\x02\x00\x01\x00"), (b"isng", b"EMU8000\0"), (b"INAM", b"part\0\0"))
"""What a synthesiser must be told (section 5); it needs no words of the makers."""
_PAIRED = 0xE
"""Bits of a sample's kind: right, left, linked (section 7.10)."""


def cut_font(font: Font, presets: Iterable[tuple[int, int]]) -> Font:
    """Keep some presets, with the instruments and samples they lead to.

    Parameters
    ----------
    font : Font
        The whole.
    presets : iterable of (bank, program)
        Percussion kits are in bank 128. What the font lacks is played by what is nearest
        (`kit.sound.font._near`).

    Raises
    ------
    ValueError
        If the font has no preset at all.
    """
    by_number = {(p.bank, p.program): p for p in reversed(font.presets)}
    kept = tuple(
        replace(
            by_number[nearest_preset(wanted, by_number)], bank=wanted[0], program=wanted[1]
        )
        for wanted in sorted(set(presets))
    )
    return without_unused(replace(font, info=_ENOUGH, presets=kept))


def without_unused(font: Font) -> Font:
    """Leave out instruments and samples that no preset leads to."""
    instruments = sorted(_led_to(font.presets, INSTRUMENT))
    places = {old: new for new, old in enumerate(instruments)}
    presets = tuple(
        replace(p, zones=_turned(p.zones, INSTRUMENT, places)) for p in font.presets
    )
    kept = [font.instruments[i] for i in instruments]
    samples = sorted(_led_to(kept, SAMPLE_ID))
    places = {old: new for new, old in enumerate(samples)}
    turned = tuple(replace(i, zones=_turned(i.zones, SAMPLE_ID, places)) for i in kept)
    sounds = [font.samples[i] for i in samples]
    return Font(
        font.info,
        presets,
        turned,
        tuple(
            # The other half of a pair may have gone; players of a font look at zones alone.
            replace(s, link=places.get(s.link, 0) if s.kind & _PAIRED else 0)
            for s in sounds
        ),
    )


def _led_to(items: Iterable[Preset | Instrument], number: int) -> set[int]:
    found = {zone.get(number) for item in items for zone in item.zones}
    return {place for place in found if place is not None}


def _turned(
    zones: tuple[Zone, ...], number: int, places: dict[int, int]
) -> tuple[Zone, ...]:
    return tuple(zone.leads_to(number, places) for zone in zones)
