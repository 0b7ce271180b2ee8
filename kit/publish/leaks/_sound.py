"""How is it seen that two files hold the same stretch of sound, packed as it was?

An MP3 is a row of frames. Each is hashed, and every run of `RUN` of them; a stretch that
is copied from one file into another brings its frames along, whatever is written in front
of them. What LAME packs anew has other frames; the kit never does that to finished sound.

Source: ISO/IEC 11172-3 (frame header, sizes); RFC 9639 (FLAC, streaminfo).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from kit.publish.leaks._words import NO_HASHES, Hashes, rolled

__all__ = [
    "FRAME", "FRAME_S", "RUN", "flac_signature", "frame_hashes", "frame_runs",
    "marked_runs", "skip_id3", "sound_seconds", "sounds_like_frames",
]  # fmt: skip

RUN = 32
STRIDE = 30
"""Of members' sound every 30th run is kept: any 62 frames (1.5 s) hold one whole."""
FRAME = 1152
FRAME_S = FRAME / 48_000
_FEWEST_FRAMES = 12
"""A run with fewer frames of its own is silence."""
_KBPS = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 0)
_HZ = (44_100, 48_000, 32_000, 0)
_PIECE = 4096
_WEIGHTS = np.random.default_rng(1152).integers(1, 2**63, 256, np.uint64) | np.uint64(1)


def skip_id3(data: bytes) -> int:
    """Give the place where the tags in front of the sound end."""
    place = 0
    while data[place : place + 3] == b"ID3" and len(data) >= place + 10:
        size = data[place + 6 : place + 10]
        place += 10 + (size[0] << 21 | size[1] << 14 | size[2] << 7 | size[3])
    return place


def _frame_size(data: bytes, place: int) -> int:
    """Give the length of the frame of MPEG-1 layer III at a place; 0 if none is there."""
    if place + 4 > len(data) or data[place] != 0xFF or data[place + 1] & 0xFE != 0xFA:
        return 0
    third = data[place + 2]
    rate, hz = _KBPS[third >> 4], _HZ[third >> 2 & 3]
    return 144_000 * rate // hz + (third >> 1 & 1) if rate and hz else 0


def _runs_of_frames(data: bytes) -> Iterator[NDArray[np.uint8]]:
    """Yield frames of one size that lie in a row, as the rows of a table."""
    place = skip_id3(data)
    whole = np.frombuffer(data, np.uint8)
    while place < len(data) - 4:
        size = _frame_size(data, place)
        if not size or place + size > len(data):
            # Something else lies in between: go on with the next two frames in a row.
            place = data.find(b"\xff", place + 1)
            while place >= 0 and not _followed(data, place):
                place = data.find(b"\xff", place + 1)
            if place < 0:
                return
            continue
        count = (len(data) - place) // size
        table = whole[place : place + count * size].reshape(count, size)
        alike = (table[:, :2] == table[0, :2]).all(axis=1) & (table[:, 2] == table[0, 2])
        rows = count if alike.all() else int(np.argmin(alike))
        yield table[:rows]
        place += rows * size


def _followed(data: bytes, place: int) -> bool:
    size = _frame_size(data, place)
    return bool(size) and bool(_frame_size(data, place + size))


def frame_hashes(data: bytes) -> Hashes:
    """Hash the frames of an MP3 one by one; none if it is none."""
    found = [
        _hashes(table[at : at + _PIECE])
        for table in _runs_of_frames(data)
        for at in range(0, len(table), _PIECE)
    ]
    return np.concatenate(found) if found else NO_HASHES


def _hashes(table: NDArray[np.uint8]) -> Hashes:
    rows, size = table.shape
    if size % 8:
        table = np.concatenate([table, np.zeros((rows, -size % 8), np.uint8)], axis=1)
    numbers = np.ascontiguousarray(table).view(np.uint64)
    numbers = numbers ^ numbers >> np.uint64(31)
    mixed: Hashes = (numbers * _WEIGHTS[: numbers.shape[1]]).sum(axis=1, dtype=np.uint64)
    return mixed ^ mixed >> np.uint64(29)


def frame_runs(data: bytes) -> Hashes:
    """Hash every run of `RUN` frames."""
    return rolled(frame_hashes(data), RUN)


def marked_runs(data: bytes) -> tuple[Hashes, NDArray[np.int64]]:
    """Hash the runs by which a sound is known, and number their first frames."""
    frames = frame_hashes(data)
    runs = rolled(frames, RUN)[::STRIDE]
    if not len(runs):
        return NO_HASHES, np.zeros(0, np.int64)
    windows = np.lib.stride_tricks.sliding_window_view(frames, RUN)[::STRIDE]
    kinds = 1 + (np.diff(np.sort(windows, axis=1), axis=1) != 0).sum(axis=1)
    sounds = kinds >= _FEWEST_FRAMES
    return runs[sounds], (np.arange(len(runs)) * STRIDE)[sounds]


def sound_seconds(data: bytes) -> float:
    """Give the length of an MP3 by its frames; the first only tells of the others."""
    frames = sum(len(table) for table in _runs_of_frames(data))
    return max(0, frames - 1) * FRAME_S


def flac_signature(data: bytes) -> bytes:
    """Give what a FLAC file says of its samples, whatever its tags: a checksum for one."""
    return b"fLaC streaminfo, as far as it tells of samples: " + data[18:42]


def sounds_like_frames(head: bytes) -> bool:
    """Say whether frames of MP3 begin within the first bytes of something."""
    place = head.find(b"\xff")
    while 0 <= place < len(head) - 4:
        if _followed(head, place):
            return True
        place = head.find(b"\xff", place + 1)
    return False
