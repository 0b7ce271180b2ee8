"""How is a good file made a bad one without knowing what is in it?

Every function takes the generator of chance first and gives new bytes.
"""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Callable
from random import Random

from fuzz_words import words

__all__ = ["TEXTS", "mutated", "text", "zipped"]

TEXTS = (*words("texts"), "\ud800")
"""What a text should never hold, and sometimes does; the last cannot stand in TOML."""


def text(chance: Random) -> str:
    """Give a hostile text."""
    return chance.choice(TEXTS)


def flip(chance: Random, data: bytes) -> bytes:
    """Change some bits."""
    body = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 5, 30))):
        if body:
            body[chance.randrange(len(body))] ^= 1 << chance.randrange(8)
    return bytes(body)


def overwrite(chance: Random, data: bytes) -> bytes:
    """Write other bytes over a stretch."""
    if not data:
        return b"\xff"
    start = chance.randrange(len(data))
    count = chance.choice((1, 2, 4, 16, 200))
    signs = (b"\0", b"\xff", b"\x80", b"\x7f\xff\xff\xff", bytes([chance.randrange(256)]))
    new = chance.choice(signs)
    return data[:start] + (new * count)[:count] + data[start + count :]


def cut(chance: Random, data: bytes) -> bytes:
    """Keep only the beginning, or lose it."""
    place = chance.randrange(len(data) + 1)
    return data[:place] if chance.random() < 0.8 else data[place:]


def lose(chance: Random, data: bytes) -> bytes:
    """Lose a stretch in the middle."""
    start = chance.randrange(len(data) + 1)
    return data[:start] + data[start + chance.choice((1, 3, 20, 400)) :]


def repeat(chance: Random, data: bytes) -> bytes:
    """Say a stretch again and again."""
    start = chance.randrange(len(data) + 1)
    stretch = data[start : start + chance.choice((1, 8, 60, 500))]
    times = chance.choice((1, 2, 30, 3000))
    return (
        data[:start]
        + stretch * min(times, 1 + 300_000 // (len(stretch) + 1))
        + data[start:]
    )


def insert(chance: Random, data: bytes) -> bytes:
    """Put a hostile text somewhere."""
    place = chance.randrange(len(data) + 1)
    new = text(chance).encode(chance.choice(("utf-8", "utf-16", "latin-1")), "replace")
    return data[:place] + new + data[place:]


def recoded(chance: Random, data: bytes) -> bytes:
    """Save as another encoding, or with another mark at the beginning."""
    words = data.decode("utf-8", "replace")
    way = chance.randrange(6)
    if way == 0:
        return words.encode("utf-16")
    if way == 1:
        return words.encode("latin-1", "replace").replace(b"e", b"\xe9", 3)
    if way == 2:
        return b"\xef\xbb\xbf" + data
    if way == 3:
        return words.encode("utf-32")
    if way == 4:
        return data.replace(b"\n", b"\r")
    place = chance.randrange(len(data) + 1)
    return data[:place] + b"\xed\xa0\x80" + data[place:]


def exchanged(chance: Random, data: bytes) -> bytes:
    """Let two lines change places, or two stretches."""
    lines = data.split(b"\n")
    if len(lines) < 3:
        half = len(data) // 2
        return data[half:] + data[:half]
    for _ in range(chance.choice((1, 3))):
        a, b = (chance.randrange(len(lines)) for _ in range(2))
        lines[a], lines[b] = lines[b], lines[a]
    return b"\n".join(lines)


_WAYS: tuple[Callable[[Random, bytes], bytes], ...] = (
    flip, overwrite, cut, lose, repeat, insert, recoded, exchanged,
)  # fmt: skip


def mutated(chance: Random, data: bytes) -> bytes:
    """Change a file in one to three ways."""
    for _ in range(chance.choice((1, 1, 1, 2, 3))):
        data = chance.choice(_WAYS)(chance, data)
    return data


def zipped(
    members: list[tuple[str, bytes]], *, packed: bool = True, level: int = 9
) -> bytes:
    """Pack an archive, names and doubles as they are given."""
    buffer = io.BytesIO()
    way = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
    with warnings.catch_warnings():
        # Two members of one name are what is wanted here.
        warnings.simplefilter("ignore")
        with zipfile.ZipFile(buffer, "w", way, compresslevel=level) as archive:
            for name, data in members:
                archive.writestr(zipfile.ZipInfo(name), data, way)
    return buffer.getvalue()
