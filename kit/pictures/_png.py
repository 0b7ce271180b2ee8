"""Which chunks does a PNG consist of, and which does its picture need?

A PNG is a signature and chunks, each with length, type, data and checksum. Text, times,
places and thumbnails stand in chunks that a picture can do without; they never reach the
decoder. Of an animation the default picture is kept, which viewers show that know no
animation.

Source: PNG, third edition (W3C), sections 5 and 11.
"""

from __future__ import annotations

import struct

from kit.errors import LessonError
from kit.pictures.limits import Anatomy, cut_short, damaged, require_size

__all__ = ["PNG_SIGNATURE", "png_anatomy"]

PNG_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_PICTURE = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})
# How its numbers are meant: colours, and which side is up.
_MEANING = frozenset({b"iCCP", b"sRGB", b"gAMA", b"eXIf"})
_AROUND_DATA = 12
"""Bytes of length, type and checksum."""
_MAX_CHUNKS = 50_000


def png_anatomy(data: bytes) -> Anatomy:
    """Take a PNG apart without decoding it.

    Parameters
    ----------
    data : bytes
        Begins with `PNG_SIGNATURE`.

    Raises
    ------
    LessonError
        If it is cut short, not built like a PNG, or its picture too large.
    """
    kept = [PNG_SIGNATURE]
    place = len(PNG_SIGNATURE)
    for number in range(_MAX_CHUNKS):
        head = data[place : place + 8]
        if len(head) < 8:
            raise cut_short()
        length, name = struct.unpack(">I4s", head)
        if not name.isalpha() or (number == 0) != (name == b"IHDR"):
            raise damaged()
        end = place + _AROUND_DATA + length
        if end > len(data):
            raise cut_short()
        if name == b"IHDR":
            if length != 13:
                raise damaged()
            require_size(*struct.unpack_from(">II", data, place + 8))
        if name in _PICTURE or name in _MEANING:
            kept.append(data[place:end])
        if name == b"IEND":
            return Anatomy(b"".join(kept), data[end:])
        place = end
    raise LessonError(f"the picture is in more than {_MAX_CHUNKS} pieces")
