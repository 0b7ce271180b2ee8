"""What stands in pictures and sound beside what is seen and heard: tags, chunks, comments?

Sources: PNG (W3C, third edition), JPEG (ITU-T T.81, annex B), ID3v2.3.0 (id3.org), RFC
9639 (FLAC), RIFF (Multimedia Programming Interface 1.0).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator

from kit.publish.leaks._piece import Found, Inside, Piece, Plain, within
from kit.publish.leaks._sound import flac_signature, skip_id3

__all__ = ["flac", "jpeg", "mp3", "picture", "png", "riff"]

_PICTURE_STARTS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"GIF8")
_DRAWS = frozenset((b"IHDR", b"IDAT", b"PLTE", b"IEND", b"tRNS"))
_MOST_TEXT = 10_000_000


def picture(data: bytes, place: str) -> Iterator[Found]:
    """Give a picture, and the letters in a format that is only looked at."""
    yield Piece(within(place, "picture"), "picture", data)


def png(data: bytes, place: str) -> Iterator[Found]:
    """Read a PNG's chunks."""
    yield from picture(data, place)
    at = 8
    while at + 8 <= len(data):
        size, name = struct.unpack_from(">I4s", data, at)
        if name not in _DRAWS:
            where = within(place, f"PNG chunk {name.decode('latin-1')}")
            yield from _chunk(data[at + 8 : at + 8 + size], where)
        at += 12 + size
    yield from _readings(within(place, "behind the picture"), data[at:])


def _chunk(body: bytes, where: str) -> Iterator[Found]:
    yield from _readings(where, body)
    for at in _all(body, b"\x78"):
        unpacker = zlib.decompressobj()
        try:
            inside = unpacker.decompress(body[at:], _MOST_TEXT)
        except zlib.error:
            continue
        yield from _readings(where, inside)
        return


def _all(body: bytes, sign: bytes) -> Iterator[int]:
    at = body.find(sign)
    while 0 <= at < 200:
        yield at
        at = body.find(sign, at + 1)


def jpeg(data: bytes, place: str) -> Iterator[Found]:
    """Read a JPEG's comments and application segments."""
    yield from picture(data, place)
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF and data[at + 1] != 0xDA:
        size = struct.unpack_from(">H", data, at + 2)[0]
        if data[at + 1] == 0xFE or 0xE0 <= data[at + 1] <= 0xEF:
            where = within(place, "JPEG comment")
            yield from _readings(where, data[at + 4 : at + 2 + size])
        at += 2 + size


def mp3(data: bytes, place: str) -> Iterator[Found]:
    """Read an MP3: its sound, its tags at both ends, the pictures in them."""
    yield Piece(within(place, "sound"), "mp3", data)
    end = skip_id3(data)
    at = 10
    while at + 10 <= end and data[at : at + 4].isalnum():
        name, size = struct.unpack_from(">4sI", data, at)
        body = data[at + 10 : at + 10 + size]
        where = within(place, f"ID3 {name.decode('latin-1')}")
        found = min((p for s in _PICTURE_STARTS if (p := body.find(s)) >= 0), default=-1)
        if found >= 0:
            yield Inside(where, body[found:])
            body = body[:found]
        yield from _readings(where, body)
        at += 10 + size
    if data[-128:-125] == b"TAG":
        yield from _readings(within(place, "ID3v1"), data[-125:])


def flac(data: bytes, place: str) -> Iterator[Found]:
    """Read a FLAC file: its signature, tags and pictures."""
    yield Piece(within(place, "sound"), "blob", flac_signature(data))
    at, last = 4, False
    while not last and at + 4 <= len(data):
        last, kind = bool(data[at] & 0x80), data[at] & 0x7F
        size = int.from_bytes(data[at + 1 : at + 4], "big")
        body = data[at + 4 : at + 4 + size]
        if kind == 4:
            yield from _readings(within(place, "tags"), body)
        elif kind == 6:
            found = min(
                (p for s in _PICTURE_STARTS if (p := body.find(s)) >= 0), default=-1
            )
            if found >= 0:
                yield Inside(within(place, "cover"), body[found:])
        at += 4 + size


def riff(data: bytes, place: str) -> Iterator[Found]:
    """Read WAVE and WebP: chunk by chunk."""
    if data[8:12] == b"WEBP":
        yield from picture(data, place)
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        body = data[at + 8 : at + 8 + size]
        if name == b"data":
            yield Piece(within(place, "sound"), "blob", body)
        elif name in (b"LIST", b"EXIF", b"XMP ", b"id3 ", b"bext"):
            where = within(place, name.decode("latin-1").strip())
            yield from _readings(where, body)
        at += 8 + size + size % 2


def _readings(place: str, data: bytes) -> Iterator[Plain]:
    """Read bytes as text, in whichever of the usual encodings they hold letters.

    Tags may be in Latin-1, UTF-8 or UTF-16: all are tried, as a wrong one gives no words.
    Each stands by itself: one behind the other, a title would be said twice.
    """
    if not data:
        return
    texts = [data.replace(b"\0", b" ").decode("utf-8", "replace")]
    if data.count(0) * 4 >= len(data):
        texts = []
        for start in (0, 1):
            even = data[start : start + (len(data) - start) // 2 * 2]
            texts += [
                even.decode("utf-16-le", "replace"),
                even.decode("utf-16-be", "replace"),
            ]
    elif b"\0" in data and (b"\xff\xfe" in data or b"\xfe\xff" in data):
        at = max(data.find(b"\xff\xfe"), data.find(b"\xfe\xff"))
        texts.append(data[at:].decode("utf-16", "replace"))
    else:
        texts.append(data.decode("latin-1"))
    for text in dict.fromkeys(texts):
        yield Plain(place, text)
