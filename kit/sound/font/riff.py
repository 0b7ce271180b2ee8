"""A SoundFont 2 as records, read from its bytes and written again.

Generators and modulators are kept as the file has them, in order, amounts as unsigned
16-bit numbers (`signed` turns one back). Loop points of a `Sample` count from its own
start. What is read and written without a change plays the same to the sample.

Source: SoundFont 2.04 technical specification, chapters 4 to 8.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from mmap import mmap
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "INSTRUMENT",
    "KEY_RANGE",
    "SAMPLE_ID",
    "Font",
    "Instrument",
    "Outline",
    "Preset",
    "Sample",
    "Zone",
    "read_font",
    "read_outline",
    "signed",
    "write_font",
]

INSTRUMENT, KEY_RANGE, SAMPLE_ID = 41, 43, 53
"""Generators that say where a zone leads and for which keys (section 8.1.2)."""
_PRESET, _BAG, _GENERATOR = struct.Struct("<20sHHHIII"), struct.Struct("<HH"), "<HH"
_MODULATOR, _INSTRUMENT = "<HHhHH", struct.Struct("<20sH")
_SAMPLE = struct.Struct("<20sIIIIIBbHH")
_GAP = 46
"""Silent points that the format wants after every sample (section 6.1)."""
_IN_ROM = 0x8000

Words = NDArray[np.int16]
Buffer = bytes | mmap
Modulator = tuple[int, int, int, int, int]


@dataclass(frozen=True, slots=True)
class Zone:
    """Generators (number, amount) and modulators of one zone."""

    generators: tuple[tuple[int, int], ...]
    modulators: tuple[Modulator, ...] = ()

    def get(self, number: int) -> int | None:
        """Give the amount of a generator: the last one counts."""
        for known, amount in reversed(self.generators):
            if known == number:
                return amount
        return None

    def keys(self) -> tuple[int, int]:
        """Give the lowest and the highest key it answers to."""
        amount = self.get(KEY_RANGE)
        return (0, 127) if amount is None else (amount & 255, amount >> 8)

    def leads_to(self, number: int, places: Mapping[int, int]) -> Zone:
        """Give it with another index behind `INSTRUMENT` or `SAMPLE_ID`."""
        turned = tuple((n, places[a] if n == number else a) for n, a in self.generators)
        return Zone(turned, self.modulators)


@dataclass(frozen=True, slots=True)
class Preset:
    """What a program change chooses; its zones lead to instruments."""

    name: str
    program: int
    bank: int
    zones: tuple[Zone, ...]


@dataclass(frozen=True, slots=True)
class Instrument:
    """Zones that lead to samples; the first may lead nowhere and is meant for all."""

    name: str
    zones: tuple[Zone, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Sample:
    """A recorded sound.

    Parameters
    ----------
    name : str
        At most 20 letters.
    data : int16 array, shape (points,)
        One channel.
    loop : (int, int)
        First point of the loop, and the one behind it; within the sound.
    rate_hz : int
        Points a second.
    key, correction : int
        The MIDI number it was recorded at, and cents to add.
    link, kind : int
        Index of the other half of a stereo pair; 1 is mono, 2 right, 4 left.
    """

    name: str
    data: Words
    loop: tuple[int, int]
    rate_hz: int
    key: int
    correction: int = 0
    link: int = 0
    kind: int = 1


@dataclass(frozen=True, slots=True)
class Font:
    """All of a SoundFont: texts about it (tag and bytes), presets, instruments, samples."""

    info: tuple[tuple[bytes, bytes], ...]
    presets: tuple[Preset, ...]
    instruments: tuple[Instrument, ...]
    samples: tuple[Sample, ...]

    def text(self, tag: bytes) -> str:
        """Give what the font says under a tag such as ``INAM``; empty if nothing."""
        return _text(self.info, tag)


@dataclass(frozen=True, slots=True)
class Outline:
    """What a SoundFont says of itself, without its zones and sounds."""

    info: tuple[tuple[bytes, bytes], ...]
    presets: frozenset[tuple[int, int]]

    def text(self, tag: bytes) -> str:
        """Give what the font says under a tag such as ``INAM``; empty if nothing."""
        return _text(self.info, tag)


def read_outline(content: Buffer) -> Outline:
    """Read the texts of a SoundFont, and its presets as (bank, program).

    Raises
    ------
    ValueError
        If these are no such bytes.
    """
    try:
        info, places = _parts(content)
        rows = list(_PRESET.iter_unpack(places[b"phdr"]))[:-1]
    except (struct.error, KeyError) as error:
        raise ValueError("these bytes are no whole SoundFont 2") from error
    return Outline(info, frozenset((row[2], row[1]) for row in rows))


def signed(amount: int) -> int:
    """Read an amount as the signed number that most generators have."""
    return amount - 0x10000 if amount & 0x8000 else amount


def read_font(content: Buffer) -> Font:
    """Read a SoundFont; its samples are views of the bytes, not copies.

    Raises
    ------
    ValueError
        If these are no such bytes, or a number in them leads nowhere.
    """
    try:
        return _read(content)
    except (struct.error, IndexError, KeyError) as error:
        raise ValueError("a table of it is not whole") from error


def _text(info: tuple[tuple[bytes, bytes], ...], tag: bytes) -> str:
    found = next((body for name, body in info if name == tag), b"")
    return found.split(b"\0")[0].decode("latin-1").strip()


def _parts(
    content: Buffer,
) -> tuple[tuple[tuple[bytes, bytes], ...], dict[bytes, memoryview]]:
    """Give the texts, and where all other chunks are."""
    if content[:4] != b"RIFF" or content[8:12] != b"sfbk":
        raise ValueError("these bytes are no SoundFont 2")
    end = 8 + int.from_bytes(content[4:8], "little")
    places: dict[bytes, memoryview] = {}
    info: list[tuple[bytes, bytes]] = []
    for _, body in _chunks(memoryview(content)[12:end]):
        kind = bytes(body[:4])
        for tag, inner in _chunks(body[4:]):
            if kind == b"INFO":
                info.append((tag, bytes(inner)))
            else:
                places[tag] = inner
    return tuple(info), places


def _read(content: Buffer) -> Font:
    info, places = _parts(content)
    words = np.frombuffer(places[b"smpl"], "<i2")
    heads = list(_SAMPLE.iter_unpack(places[b"shdr"]))[:-1]
    presets = list(_PRESET.iter_unpack(places[b"phdr"]))
    instruments = list(_INSTRUMENT.iter_unpack(places[b"inst"]))
    preset_zones = _zones(places, "p", [row[3] for row in presets], len(instruments) - 1)
    instrument_zones = _zones(places, "i", [row[1] for row in instruments], len(heads))
    return Font(
        info,
        tuple(
            Preset(_name(row[0]), row[1], row[2], zones)
            for row, zones in zip(presets[:-1], preset_zones, strict=True)
        ),
        tuple(
            Instrument(_name(row[0]), zones)
            for row, zones in zip(instruments[:-1], instrument_zones, strict=True)
        ),
        tuple(_sample(words, row) for row in heads),
    )


def _chunks(body: memoryview) -> Iterator[tuple[bytes, memoryview]]:
    at = 0
    while at + 8 <= len(body):
        tag, size = struct.unpack_from("<4sI", body, at)
        if at + 8 + size > len(body):
            raise ValueError("a chunk is longer than what it lies in")
        yield tag, body[at + 8 : at + 8 + size]
        at += 8 + size + size % 2


def _zones(
    places: dict[bytes, memoryview], letter: str, firsts: list[int], targets: int
) -> list[tuple[Zone, ...]]:
    """Give the zones of all presets (letter p) or instruments (i).

    Those that lead nowhere are left out, but for the first, which is meant for all; so is
    what stands in a zone behind the generator that leads on (sections 7.3 to 7.9).
    """
    bags, generators, modulators = (
        list(struct.iter_unpack(layout, places[f"{letter}{name}".encode()]))
        for layout, name in ((_BAG.format, "bag"), (_GENERATOR, "gen"), (_MODULATOR, "mod"))
    )
    _require_order(firsts, len(bags) - 1)
    _require_order([g for g, _ in bags], len(generators))
    _require_order([m for _, m in bags], len(modulators))
    leading = INSTRUMENT if letter == "p" else SAMPLE_ID
    found = [
        _zone(generators[g:next_g], modulators[m:next_m], leading, targets)
        for (g, m), (next_g, next_m) in pairwise(bags)
    ]
    return [
        tuple(
            zone
            for place, zone in enumerate(found[first:last])
            if not place or zone.get(leading) is not None
        )
        for first, last in pairwise(firsts)
    ]


def _require_order(places: list[int], most: int) -> None:
    if any(later < earlier for earlier, later in pairwise([0, *places, most])):
        raise ValueError("an index leads out of its table")


def _zone(
    generators: list[tuple[int, int]],
    modulators: list[Modulator],
    leading: int,
    targets: int,
) -> Zone:
    for place, (number, amount) in enumerate(generators):
        if number == leading:
            if amount >= targets:
                raise ValueError("an index leads out of its table")
            return Zone(tuple(generators[: place + 1]), tuple(modulators))
    return Zone(tuple(generators), tuple(modulators))


def _sample(words: Words, row: tuple[Any, ...]) -> Sample:
    name, start, end, loop_start, loop_end, rate, key, correction, link, kind = row
    if kind & _IN_ROM:  # of a sound card
        start = end = 0
    if not start <= end <= len(words) or loop_end > len(words):
        raise ValueError("a sample lies outside of its sound data")
    first, last = (min(max(0, at - start), end - start) for at in (loop_start, loop_end))
    return Sample(
        _name(name), words[start:end], (first, last), rate, key, correction, link, kind
    )


def _name(field: bytes) -> str:
    return field.split(b"\0")[0].decode("latin-1")


def write_font(font: Font) -> bytes:
    """Write a SoundFont; equal fonts give equal bytes."""
    sound: list[bytes] = []
    heads: list[bytes] = []
    at = 0
    for s in font.samples:
        sound += [np.ascontiguousarray(s.data, "<i2").tobytes(), bytes(2 * _GAP)]
        heads.append(
            _SAMPLE.pack(
                _field(s.name),
                at,
                at + len(s.data),
                at + s.loop[0],
                at + s.loop[1],
                s.rate_hz,
                s.key,
                s.correction,
                s.link,
                s.kind,
            )
        )
        at += len(s.data) + _GAP
    heads.append(_SAMPLE.pack(b"EOS", *[0] * 9))
    preset_bags, preset_parts = _bags("p", [p.zones for p in font.presets])
    instrument_bags, instrument_parts = _bags("i", [i.zones for i in font.instruments])
    presets = [
        _PRESET.pack(_field(p.name), p.program, p.bank, bag, 0, 0, 0)
        for p, bag in zip(font.presets, preset_bags, strict=False)
    ]
    presets.append(_PRESET.pack(b"EOP", 0, 0, preset_bags[-1], 0, 0, 0))
    instruments = [
        _INSTRUMENT.pack(_field(i.name), bag)
        for i, bag in zip(font.instruments, instrument_bags, strict=False)
    ]
    instruments.append(_INSTRUMENT.pack(b"EOI", instrument_bags[-1]))
    body = (
        _list(b"INFO", font.info),
        _list(b"sdta", [(b"smpl", b"".join(sound))]),
        _list(
            b"pdta",
            [
                (b"phdr", b"".join(presets)), *preset_parts,
                (b"inst", b"".join(instruments)), *instrument_parts,
                (b"shdr", b"".join(heads)),
            ],
        ),
    )  # fmt: skip
    return _chunk(b"RIFF", b"sfbk" + b"".join(body))


def _bags(
    letter: str, items: list[tuple[Zone, ...]]
) -> tuple[list[int], list[tuple[bytes, bytes]]]:
    """Give each item's first bag, one more for the end, and the three chunks of zones."""
    firsts: list[int] = []
    bags: list[tuple[int, int]] = []
    generators: list[tuple[int, int]] = []
    modulators: list[Modulator] = []
    for zones in items:
        firsts.append(len(bags))
        # No synthesiser likes an item without any zone.
        for zone in zones or (Zone(()),):
            bags.append((len(generators), len(modulators)))
            generators += zone.generators
            modulators += zone.modulators
    firsts.append(len(bags))
    bags.append((len(generators), len(modulators)))
    parts = [
        (f"{letter}bag".encode(), _rows(_BAG.format, bags)),
        (f"{letter}mod".encode(), _rows(_MODULATOR, [*modulators, (0,) * 5])),
        (f"{letter}gen".encode(), _rows(_GENERATOR, [*generators, (0, 0)])),
    ]
    return firsts, parts


def _rows(layout: str, rows: Iterable[tuple[int, ...]]) -> bytes:
    pack = struct.Struct(layout).pack
    return b"".join(pack(*row) for row in rows)


def _field(name: str) -> bytes:
    return name.encode("latin-1")[:19]


def _list(kind: bytes, parts: Iterable[tuple[bytes, bytes]]) -> bytes:
    return _chunk(b"LIST", kind + b"".join(_chunk(tag, body) for tag, body in parts))


def _chunk(tag: bytes, body: bytes) -> bytes:
    return tag + struct.pack("<I", len(body)) + body + b"\0" * (len(body) % 2)
