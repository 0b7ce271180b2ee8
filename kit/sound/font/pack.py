"""How does a SoundFont travel inside the package? Packed without loss.

The sound is FLAC, the rest deflated; the SHA-256 of the font stands in front, and what is
unpacked is compared with it. FLAC and not a lossy code: those decode to other samples from
one library to the next, and audio would differ from machine to machine.

Source: FLAC is RFC 9639, through libsndfile; deflate is RFC 1950, through zlib.
"""

from __future__ import annotations

import hashlib
import io
import struct
import zlib

import numpy as np
import soundfile

__all__ = ["pack_font", "packed_digest", "unpack_font"]

_MAGIC = b"KITFONT1"
_HEAD = struct.Struct("<8s32sIII")
"""Magic, digest of the font, where its sound begins, bytes of sound, bytes of the rest."""
_LARGEST_REST = 1 << 26


def pack_font(content: bytes) -> bytes:
    """Pack a SoundFont.

    Raises
    ------
    ValueError
        If it has no sound.
    """
    at, size = _sound_place(content)
    rest = zlib.compress(content[:at] + content[at + size :], 9)
    sound = io.BytesIO()
    with soundfile.SoundFile(
        sound, "w", 44_100, 1, "PCM_16", format="FLAC", compression_level=1.0
    ) as file:
        file.write(np.frombuffer(content, "<i2", size // 2, at))
    digest = hashlib.sha256(content).digest()
    return _HEAD.pack(_MAGIC, digest, at, size, len(rest)) + rest + sound.getvalue()


def packed_digest(head: bytes) -> str:
    """Give the SHA-256 of the font in a pack, in hexadecimal.

    Parameters
    ----------
    head : bytes
        The pack, or its first 64 bytes at least.

    Raises
    ------
    ValueError
        If these are no such bytes.
    """
    return _head(head)[0].hex()


def unpack_font(packed: bytes) -> bytes:
    """Give the font in a pack, the same to the byte.

    Raises
    ------
    ValueError
        If the pack is damaged.
    """
    digest, at, size, rest_size = _head(packed)
    try:
        rest = zlib.decompressobj().decompress(
            packed[_HEAD.size : _HEAD.size + rest_size], _LARGEST_REST
        )
        flac = io.BytesIO(packed[_HEAD.size + rest_size :])
        sound, _ = soundfile.read(flac, frames=size // 2, dtype="int16")
    except (zlib.error, soundfile.LibsndfileError) as error:
        raise ValueError("the packed SoundFont is damaged") from error
    content = b"".join((rest[:at], sound.astype("<i2", copy=False).tobytes(), rest[at:]))
    if hashlib.sha256(content).digest() != digest:
        raise ValueError("the packed SoundFont is damaged")
    return content


def _head(packed: bytes) -> tuple[bytes, int, int, int]:
    if len(packed) < _HEAD.size or not packed.startswith(_MAGIC):
        raise ValueError("these bytes are no packed SoundFont")
    _, digest, at, size, rest = _HEAD.unpack_from(packed)
    return digest, at, size, rest


def _sound_place(content: bytes) -> tuple[int, int]:
    """Find the sound (``smpl``) in a SoundFont: its first byte, and how many."""
    at = 12
    while at + 12 <= len(content):
        tag, size = struct.unpack_from("<4sI", content, at)
        if tag == b"LIST" and content[at + 8 : at + 16] == b"sdtasmpl":
            return at + 20, struct.unpack_from("<I", content, at + 16)[0]
        at += 8 + size + size % 2
    raise ValueError("this SoundFont has no sound")
