"""Make the kit's own SoundFont out of FluidR3_GM.sf2, and pack it.

Run by hand, see docs/developer/sound.md::

    apt-get install fluid-soundfont-gm
    python kit/sound/font/making/make_font.py /usr/share/sounds/sf2/FluidR3_GM.sf2

writes ``kit/sound/font/band.font`` and tells what was done to which sound. The same source
and the same libraries give the same bytes.
"""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from importlib.resources import files
from pathlib import Path
from typing import Any

from kit.sound.font.cut import without_unused
from kit.sound.font.making._attacks import in_tune, mended
from kit.sound.font.making._kits import kits_of
from kit.sound.font.making._layers import (
    Brightness,
    Layer,
    instrument_zones,
    layers,
    named_instrument,
    sample_places,
    slurred,
)
from kit.sound.font.making._levels import evened
from kit.sound.font.making._loops import lengthened
from kit.sound.font.making._low_end import Treatment, audible_on_small_speakers
from kit.sound.font.making._tones import Tone, tones_of
from kit.sound.font.pack import pack_font
from kit.sound.font.riff import Font, Instrument, Preset, Sample, read_font, write_font
from kit.terminal import echo

__all__ = ["make_font", "recipe"]

SLURS = 1
"""The bank of slurred copies."""
_RINGING = ("struck", "plucked")
"""Their partials are stretched, so their pitch is left to the ears of who recorded them."""
_MAKER = b"Tune Lesson Kit\0"
_PACKED = "band.font"


def recipe() -> dict[str, Any]:
    """Read ``recipe.toml``."""
    text = (files("kit.sound.font.making") / "recipe.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def make_font(
    source: Font, wanted: Mapping[str, Any], say: Callable[[str], None] = lambda _: None
) -> Font:
    """Make the font.

    Parameters
    ----------
    source : Font
        FluidR3 GM, or one that is built like it.
    wanted : mapping
        As `recipe` gives it.
    say : callable
        Is told what was done to a sound.

    Raises
    ------
    ValueError
        If the source is built in another way.
    """
    kits = wanted["kits"]
    made = kits_of(
        source,
        kits["programs"],
        keys=tuple(kits["keys"]),
        kicks=kits["kicks"],
        low=Treatment(**wanted["low"]["kick"]),
        longest_s=kits["longest_s"],
    )
    brightness = {
        name: Brightness(
            *(tuple(row[key]) for key in ("velocities", "harmonics", "least_hz"))
        )
        for name, row in wanted["brightness"].items()
    }
    for program, row in wanted["tuned"].items():
        general, tones = tones_of(source, int(program), *row["keys"])
        tones = _made_ready(tones, row, wanted["low"], say)
        made = _with_program(
            made, int(program), row, general, tones, brightness.get(row.get("brightness"))
        )
    ordered = sorted(made.presets, key=lambda p: (p.bank, p.program))
    return without_unused(replace(made, info=_info(source), presets=tuple(ordered)))


def _made_ready(
    tones: Iterable[Tone],
    row: Mapping[str, Any],
    low: Mapping[str, Any],
    say: Callable[[str], None],
) -> tuple[Tone, ...]:
    ready = []
    for tone in tones:
        if row.get("brightness") not in _RINGING:
            tone = in_tune(tone)  # noqa: PLW2901 - one tone, step by step
        if row.get("held"):
            longer = lengthened(tone)
            tone, done = mended(longer)  # noqa: PLW2901
            if done:
                say(f"{row['name']}, keys {tone.low} to {tone.high}: {done}")
        if "low" in row:
            how = Treatment(**low[row["low"]])
            sample = audible_on_small_speakers(tone.sample, how, tone.speed)
            tone = replace(tone, sample=sample)  # noqa: PLW2901
        ready.append(tone)
    return evened(ready)


def _with_program(
    font: Font,
    program: int,
    row: Mapping[str, Any],
    general: Mapping[int, int],
    tones: tuple[Tone, ...],
    brightness: Brightness | None,
) -> Font:
    samples = _distinct(tone.sample for tone in tones)
    places = sample_places(samples, len(font.samples))
    font = replace(font, samples=(*font.samples, *samples))
    font = _with_bank(font, 0, program, row, general, layers(tones, brightness, places))
    if row.get("held"):
        joined = layers(slurred(tones), brightness, places)
        font = _with_bank(font, SLURS, program, row, general, joined)
    return font


def _with_bank(
    font: Font,
    bank: int,
    program: int,
    row: Mapping[str, Any],
    general: Mapping[int, int],
    made: list[Layer],
) -> Font:
    name = f"Slur {row['name']}" if bank == SLURS else row["name"]
    instruments: tuple[Instrument, ...] = tuple(
        named_instrument(name, layer) for layer in made
    )
    numbered = zip(
        made, range(len(font.instruments), len(font.instruments) + len(made)), strict=True
    )
    zones = instrument_zones(numbered, general)
    programs = [program, *([row["also"]] if "also" in row else [])]
    presets = tuple(Preset(name[:19], number, bank, zones) for number in programs)
    return replace(
        font,
        instruments=(*font.instruments, *instruments),
        presets=(*font.presets, *presets),
    )


def _distinct(samples: Iterable[Sample]) -> list[Sample]:
    return list({id(sample): sample for sample in samples}.values())


def _info(source: Font) -> tuple[tuple[bytes, bytes], ...]:
    """Say who made the font out of what, and keep the licence's notice."""
    said = {
        b"ifil": b"\x02\x00\x01\x00",
        b"isng": b"EMU8000\0",
        b"INAM": b"Tune Lesson Kit band\0",
        b"ICOP": source.text(b"ICOP").encode("latin-1") + b"\0",
        b"ICMT": source.text(b"ICMT").encode("latin-1") + b"\0",
        b"IPRD": b"Made from " + source.text(b"INAM").encode("latin-1") + b"\0",
        b"ISFT": _MAKER,
    }
    return tuple((tag, text + b"\0" * (len(text) % 2)) for tag, text in said.items())


def main(arguments: list[str]) -> int:
    """Make the font from the file named and put it where the kit finds it."""
    if len(arguments) not in (1, 2):
        echo("usage: make_font.py FluidR3_GM.sf2 [band.font]")
        return 1
    source = read_font(Path(arguments[0]).read_bytes())
    content = write_font(make_font(source, recipe(), echo))
    packed = pack_font(content)
    here = Path(__file__).parents[1] / _PACKED
    place = Path(arguments[1]) if len(arguments) == 2 else here
    place.write_bytes(packed)
    echo(f"{place}: {len(content) / 1e6:.1f} MB packed into {len(packed) / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
