"""A SoundFont of a few kilobytes, for tests that spoil it or need another than ours."""

from __future__ import annotations

import numpy as np

from kit.sound.font.riff import (
    INSTRUMENT,
    KEY_RANGE,
    SAMPLE_ID,
    Font,
    Instrument,
    Preset,
    Sample,
    Zone,
    write_font,
)

_RATE_HZ = 22_050
_LOOP_MODE = 54


def tiny_font(*, licence: str = "", also: tuple[tuple[int, int], ...] = ()) -> bytes:
    """Give a font with a reed (program 0), a string (32) and a drum kit.

    Every sound has two zones that lead to it, one of them meant for all.
    """
    time = np.arange(_RATE_HZ // 4) / _RATE_HZ
    reed = sum(np.sin(2 * np.pi * 441 * n * time) / n for n in (1, 3, 5))
    string = np.sin(2 * np.pi * 110.25 * time) * np.exp(-8 * time)
    drum = np.random.default_rng(1).normal(size=len(time)) * np.exp(-30 * time)
    samples = tuple(
        Sample(name, (9000 * wave).astype("<i2"), (400, 3400), _RATE_HZ, key)
        for name, wave, key in (
            ("reed", reed, 69),
            ("string", string, 45),
            ("drum", drum, 60),
        )
    )

    def instrument(name: str, place: int, mode: int) -> Instrument:
        general = Zone(((_LOOP_MODE, mode), (38, 0xF000)))
        split = [(0, 59), (60, 127)]
        return Instrument(
            name,
            (
                general,
                *(
                    Zone(((KEY_RANGE, low | high << 8), (SAMPLE_ID, place)))
                    for low, high in split
                ),
            ),
        )

    instruments = (
        instrument("reed", 0, 1),
        instrument("string", 1, 0),
        instrument("drum", 2, 0),
    )
    numbers = ((0, 0, 0), (0, 32, 1), (128, 0, 2), *((b, p, 0) for b, p in also))
    presets = tuple(
        Preset(f"preset {bank} {program}", program, bank, (Zone(((INSTRUMENT, place),)),))
        for bank, program, place in sorted(numbers)
    )
    info = [(b"ifil", b"\x02\x00\x01\x00"), (b"isng", b"EMU8000\0"), (b"INAM", b"tiny\0\0")]
    if licence:
        text = licence.encode() + b"\0"
        info.append((b"ICOP", text + b"\0" * (len(text) % 2)))
    return write_font(Font(tuple(info), presets, instruments, samples))
