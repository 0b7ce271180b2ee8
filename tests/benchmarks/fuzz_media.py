"""What hostile pictures and SoundFonts does a user give?

Each function makes a case from a generator of chance; pictures and SoundFonts are made by
rule, in the smallest form that their formats allow, and then broken.
"""

from __future__ import annotations

import json
import struct
import zlib
from functools import lru_cache
from random import Random
from typing import Any

from fuzz_bytes import mutated, text
from fuzz_case import Case, Folder, Link
from fuzz_good import lesson_files, plain_notebook, plain_toml

__all__ = ["cover", "picture", "png_dot", "small_soundfont", "soundfont"]

TUNE = b'X:1\nT:Small Tune\nM:4/4\nL:1/4\nK:C\n"C"CDEF | "G"GABc |]\n'
BUILD_SHARE = 0.1
"""Of the lessons that are built and not only checked: that takes seconds."""


def png(width: int, height: int, rows: bytes, *, depth: int = 8, colour: int = 0) -> bytes:
    """Write a PNG, true or not."""
    head = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", head)
        + _chunk(b"IDAT", rows)
        + _chunk(b"IEND", b"")
    )


def _chunk(kind: bytes, data: bytes) -> bytes:
    return (
        struct.pack(">I", len(data))
        + kind
        + data
        + struct.pack(">I", zlib.crc32(kind + data))
    )


def png_dot() -> bytes:
    """Give a good picture of a few dots."""
    return png(16, 16, zlib.compress(b"\0" * 17 * 16))


@lru_cache
def _jpeg() -> bytes:
    """Give a small JPEG with a comment."""
    from io import BytesIO

    from PIL import Image

    buffer = BytesIO()
    Image.new("RGB", (16, 16), (200, 90, 20)).save(
        buffer, "JPEG", comment=b"where it was taken"
    )
    return buffer.getvalue()


def picture(chance: Random) -> bytes:
    """Give a picture that is broken, a bomb or none."""
    ways = (_changed, _changed, _changed, _too_large, _with_a_note, _of_a_false_kind, _none)
    return chance.choice(ways)(chance)


def _changed(chance: Random) -> bytes:
    return mutated(chance, chance.choice((png_dot(), _jpeg())))


def _too_large(chance: Random) -> bytes:
    side = chance.choice((20_000, 60_000, 2**31 - 1))
    return png(side, side, zlib.compress(b"\0" * chance.choice((10, 10_000_000))))


@lru_cache
def _bomb() -> bytes:
    """Give fifty megabytes of nothing, packed."""
    return zlib.compress(b"\0" * 50_000_000)


def _with_a_note(chance: Random) -> bytes:
    said = text(chance).encode("utf-8", "replace")
    notes = (
        _chunk(b"tEXt", b"Comment\0" + said), _chunk(b"eXIf", said),
        _chunk(b"zTXt", b"a\0\0" + _bomb()),
        _chunk(b"iCCP", b"a\0\0" + zlib.compress(said)),
    )  # fmt: skip
    if chance.random() < 0.25:
        return _jpeg()[:20] + b"\xff\xfe\xff\xff" + b"x" * 70_000 + _jpeg()[20:]
    return png_dot()[:33] + chance.choice(notes) + png_dot()[33:]


def _of_a_false_kind(chance: Random) -> bytes:
    depth, colour = chance.choice((0, 3, 16, 255)), chance.choice((1, 2, 3, 5, 6))
    return png(16, 16, zlib.compress(b"\xff" * 5), depth=depth, colour=colour)


def _none(chance: Random) -> bytes:
    script = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
    noise = struct.pack(">4I", *(chance.getrandbits(32) for _ in range(4)))
    return chance.choice(
        (
            b"", script, b"GIF89a" + b"\0" * 50, b"BM" + b"\xff" * 60, b"II*\0\x08\0\0\0",
            b"RIFF\xff\xff\xff\xffWEBP", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"%PDF-1.7",
            b"not a picture", noise, noise * 1000,
        )
    )  # fmt: skip


def _lesson(
    *, more: bytes = b"", audio: bytes = b"", cells: list[Any] | None = None
) -> dict[bytes, Any]:
    toml = more + plain_toml("tune.abc").replace(b"[audio]\n", b"[audio]\n" + audio)
    return {
        b"tune.abc": TUNE,
        b"lesson.toml": toml,
        b"lesson.ipynb": json.dumps(plain_notebook(cells)).encode(),
    }


def _given(chance: Random, family: str, lesson: dict[bytes, Any]) -> Case:
    commands = [[b"check", b"lesson"]]
    if chance.random() < BUILD_SHARE:
        commands.append([b"build", b"lesson", b"--out", b"out", b"--jobs", b"1"])
    return Case(family, lesson_files(b"lesson", lesson), commands, sources=(b"lesson",))


def cover(chance: Random) -> Case:
    """Give a lesson with a hostile cover, or a hostile picture beside its notebook."""
    name = chance.choice(("cover.png", "cover.jpg", "cover.jpeg", "cover.gif", "cover"))
    if chance.random() < 0.6:
        lesson = _lesson(audio=f'cover = "{name}"\n'.encode())
        family = "cover"
    else:
        cell = {
            "cell_type": "markdown",
            "id": "p",
            "metadata": {},
            "source": f"![picture]({name})",
        }
        lesson = _lesson(cells=[cell])
        family = "notebook picture"
    lesson[name.encode()] = picture(chance)
    return _given(chance, family, lesson)


@lru_cache
def small_soundfont() -> bytes:
    """Write a SoundFont of one sample, as small as the format allows."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)

    def listed(kind: bytes, *chunks: bytes) -> bytes:
        return chunk(b"LIST", kind + b"".join(chunks))

    wave = struct.pack("<80h", *((n % 20 - 10) * 900 for n in range(80)))
    info = listed(
        b"INFO",
        chunk(b"ifil", struct.pack("<HH", 2, 4)),
        chunk(b"isng", b"EMU8000\0"),
        chunk(b"INAM", b"small\0"),
    )
    data = listed(b"sdta", chunk(b"smpl", wave + b"\0" * 92))
    names = [name.ljust(20, b"\0") for name in (b"p", b"EOP", b"i", b"EOI", b"s", b"EOS")]
    preset = (
        names[0]
        + struct.pack("<HHHIII", 0, 0, 0, 0, 0, 0)
        + names[1]
        + struct.pack("<HHHIII", 0, 0, 1, 0, 0, 0)
    )
    bags = struct.pack("<HHHH", 0, 0, 1, 0)
    mods = b"\0" * 10
    inst = names[2] + struct.pack("<H", 0) + names[3] + struct.pack("<H", 1)
    head = (
        names[4]
        + struct.pack("<IIIIIBbHH", 0, 80, 10, 70, 44100, 60, 0, 0, 1)
        + names[5]
        + b"\0" * 26
    )
    pdta = listed(
        b"pdta", chunk(b"phdr", preset), chunk(b"pbag", bags), chunk(b"pmod", mods),
        chunk(b"pgen", struct.pack("<HHHH", 41, 0, 0, 0)), chunk(b"inst", inst),
        chunk(b"ibag", bags), chunk(b"imod", mods),
        chunk(b"igen", struct.pack("<HHHH", 53, 0, 0, 0)), chunk(b"shdr", head),
    )  # fmt: skip
    return chunk(b"RIFF", b"sfbk" + info + data + pdta)


def soundfont(chance: Random) -> Case:
    """Give a lesson with a broken SoundFont of its own."""
    way = chance.randrange(8)
    data = small_soundfont()
    if way < 4:
        data = mutated(chance, data)
    elif way == 4:
        data = data[:4] + struct.pack("<I", chance.choice((0, 1, 2**32 - 1))) + data[8:]
    elif way == 5:
        data = b"RIFF" + b"\xff" * 4 + b"sfbk" + text(chance).encode("utf-8", "replace")
    elif way == 6:
        data = data.replace(b"smpl", b"sm24").replace(
            struct.pack("<HH", 2, 4), struct.pack("<HH", 3, 0)
        )
    name = chance.choice(
        ("font.sf2", "font.sf3", "font.SF2", "levels/font.sf2", "font.txt")
    )
    lesson = _lesson(more=f'soundfont = "{name}"\n'.encode())
    lesson[name.encode()] = (
        data if way < 7 else chance.choice((b"", Folder(), Link(b"/dev/zero")))
    )
    return _given(chance, "SoundFont", lesson)
