"""What the leak proof makes of pictures that are none, or enormous."""

from __future__ import annotations

import struct
import zlib

import pytest

from kit.publish.leaks._pictures import look


def png(width: int, height: int) -> bytes:
    """Give a PNG that says it is so large, and has next to nothing inside."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(bytes(1000))
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", data)
        + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "data",
    [
        png(20_000, 20_000),
        png(100_000, 100_000),
        png(2**31 - 1, 2**31 - 1),
        png(0, 5),
        png(400, 400),
        b"GIF89a" + b"\xff" * 40,
        b"\xff\xd8\xff" + bytes(100),
        b"RIFF\xff\xff\xff\xffWEBP" + bytes(40),
        b"",
    ],
)
def test_what_nobody_can_see_is_no_picture(data: bytes):
    assert look(data) is None
