"""What does the first frame of an MP3 say about delay, padding and length?

The *info tag* is a silent frame whose body holds the number of frames and bytes, a seek
table and, behind an encoder name, how many samples to drop at both ends. The name must
begin with ``LAME`` for decoders to heed the rest; LAME is indeed the encoder.

Sources: ISO/IEC 11172-3 (frame header, sizes); the Xing and LAME info tag, revision 0, as
described at gabriel.mp3-tech.org/mp3infotag.html.
"""

from __future__ import annotations

import struct

import numpy as np

__all__ = ["BIT_RATES_KBPS", "SAMPLE_RATE_HZ", "crc16", "info_frame"]

SAMPLE_RATE_HZ = 48_000
BIT_RATES_KBPS = (32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
"""Of MPEG-1 layer III (ISO/IEC 11172-3, bit rate indices 1 to 14)."""

_FRAME_SAMPLES = 1152
_ENCODER_DELAY = 576
_SIDE_INFO_BYTES = 32  # stereo
_SMALLEST_KBPS = 80  # a frame of 240 bytes: the first that holds the tag at 48 kHz


def info_frame(audio: bytes, sample_count: int) -> bytes:
    """Build the frame to put in front of encoded audio.

    Parameters
    ----------
    audio : bytes
        MPEG-1 layer III frames at 48 kHz, stereo, constant bit rate.
    sample_count : int
        Samples per channel that were encoded.
    """
    rate = max(_SMALLEST_KBPS, _bit_rate(audio, 0))
    header = bytearray(audio[:4])
    header[1] |= 0x01  # no checksum
    header[2] = ((BIT_RATES_KBPS.index(rate) + 1) << 4) | (header[2] & 0x0C)
    size = _frame_bytes(rate)
    frames = _count_frames(audio)
    total = size + len(audio)
    padding = frames * _FRAME_SAMPLES - _ENCODER_DELAY - sample_count
    body = b"Info" + struct.pack(">III", 0x0F, frames, total)
    # The seek table: at a constant bit rate the place in bytes follows the time.
    body += bytes(place * 256 // 100 for place in range(100))
    body += struct.pack(">I", 50)
    # Revision 0, method 1 (constant bit rate); low-pass, peak and gains left unsaid.
    body += b"LAME3.100" + bytes([0x01, 0]) + bytes(8)
    body += bytes([0x03, min(255, rate)])
    body += ((_ENCODER_DELAY << 12) | padding).to_bytes(3, "big")
    body += bytes([0x80 | 0x0C, 0, 0, 0])  # source at 48 kHz, joint stereo
    body += struct.pack(">IH", total, crc16(audio))
    frame = bytes(header) + bytes(_SIDE_INFO_BYTES) + body
    return (frame + struct.pack(">H", crc16(frame))).ljust(size, b"\0")


def _bit_rate(audio: bytes, place: int) -> int:
    return BIT_RATES_KBPS[(audio[place + 2] >> 4) - 1]


def _frame_bytes(rate_kbps: int) -> int:
    return 144 * rate_kbps * 1000 // SAMPLE_RATE_HZ


def _count_frames(audio: bytes) -> int:
    """Walk over the frame headers."""
    place = count = 0
    while place + 4 <= len(audio):
        padding_slot = (audio[place + 2] >> 1) & 1
        place += _frame_bytes(_bit_rate(audio, place)) + padding_slot
        count += 1
    return count


def _table() -> tuple[int, ...]:
    return tuple(_step(byte, 8) for byte in range(256))


def _step(crc: int, bits: int) -> int:
    for _ in range(bits):
        crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return crc


_TABLE = _table()


def crc16(content: bytes) -> int:
    """Compute the CRC-16 of the info tag (reversed polynomial 0xA001, start 0).

    The content is cut into rows, which are worked through side by side, and the rows'
    checksums are put together: appending n bytes is a linear map of the 16 bits.

    Examples
    --------
    >>> hex(crc16(b"123456789"))
    '0xbb3d'
    """
    table = np.array(_TABLE, np.uint16)
    width = max(1, int(len(content) ** 0.5))
    # Zeros in front of the content leave a checksum that starts at 0 as it is.
    front = -len(content) % width
    rows = np.frombuffer(bytes(front) + content, np.uint8).reshape(-1, width)
    crcs = np.zeros(len(rows), np.uint16)
    basis = (1 << np.arange(16)).astype(np.uint16)
    for column in range(width):
        crcs = table[(crcs ^ rows[:, column]) & 0xFF] ^ (crcs >> 8)
        basis = table[basis & 0xFF] ^ (basis >> 8)
    shifts = [int(value) for value in basis]
    total = 0
    for crc in crcs.tolist():
        moved = 0
        for bit, image in enumerate(shifts):
            if total >> bit & 1:
                moved ^= image
        total = moved ^ crc
    return total
