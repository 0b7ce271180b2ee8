"""Which segments does a JPEG consist of, and which does its picture need?

A JPEG is a row of segments, each begun by a marker; scans of packed pixels follow some of
them. Comments, thumbnails, places and other programs' notes stand in segments of their own
(COM, APP0 to APP15); they never reach the decoder. Of a file with several pictures the
first is kept.

Source: ITU-T T.81, annex B; JFIF (ITU-T T.871); ICC.1, annex B.4, for profiles in APP2.
"""

from __future__ import annotations

import re
import struct

from kit.errors import LessonError
from kit.pictures.limits import Anatomy, cut_short, damaged, require_size

__all__ = ["JPEG_SIGNATURE", "jpeg_anatomy"]

JPEG_SIGNATURE = b"\xff\xd8\xff"
_COMMENT, _APP_FIRST, _APP_LAST = 0xFE, 0xE0, 0xEF
_SCAN, _END = 0xDA, 0xD9
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
# How its numbers are meant: which colours, and which side is up.
_MEANING = {0xE0: b"JFIF\0", 0xE1: b"Exif\0\0", 0xE2: b"ICC_PROFILE\0", 0xEE: b"Adobe"}
# Within a scan FF is data if 00 follows, a place to begin again if D0 to D7 do, and
# padding before another FF.
_AFTER_SCAN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_MAX_SCANS = 40
"""Each scan goes over the whole picture again; programs write at most about a dozen."""


def jpeg_anatomy(data: bytes) -> Anatomy:
    """Take a JPEG apart without decoding it.

    Parameters
    ----------
    data : bytes
        Begins with `JPEG_SIGNATURE`.

    Raises
    ------
    LessonError
        If it is cut short, not built like a JPEG, or its picture too large.
    """
    kept = [data[:2]]
    frames = scans = 0
    place = 2
    while True:
        marker, place = _marker(data, place)
        if marker == _END:
            if not (frames and scans):
                raise damaged()
            return Anatomy(b"".join([*kept, b"\xff\xd9"]), data[place:])
        end = _segment_end(data, place)
        content = data[place + 2 : end]
        if marker in _FRAMES:
            frames += 1
            _require_frame(content, frames)
        elif marker == _SCAN:
            scans += 1
            _require_scans(scans)
            end = _scan_end(data, end)
        if _is_needed(marker, content):
            kept.append(bytes((0xFF, marker)) + data[place:end])
        place = end


def _marker(data: bytes, place: int) -> tuple[int, int]:
    """Give the marker at a place, and the place after it."""
    if place >= len(data):
        raise cut_short()
    if data[place] != 0xFF:
        raise damaged()
    while place < len(data) and data[place] == 0xFF:
        place += 1
    if place >= len(data):
        raise cut_short()
    marker = data[place]
    if marker < 0xC0 or 0xD0 <= marker <= 0xD8:
        raise damaged()
    return marker, place + 1


def _segment_end(data: bytes, place: int) -> int:
    if place + 2 > len(data):
        raise cut_short()
    (length,) = struct.unpack_from(">H", data, place)
    if length < 2:
        raise damaged()
    if place + length > len(data):
        raise cut_short()
    return place + int(length)


def _scan_end(data: bytes, place: int) -> int:
    found = _AFTER_SCAN.search(data, place)
    if found is None:
        raise cut_short()
    return found.start()


def _require_frame(content: bytes, frames: int) -> None:
    if frames > 1 or len(content) < 6:
        raise damaged()
    height, width = struct.unpack_from(">HH", content, 1)
    require_size(width, height)


def _require_scans(scans: int) -> None:
    if scans > _MAX_SCANS:
        raise LessonError(
            f"the picture is packed in more than {_MAX_SCANS} scans",
            remedy="open it in an image program and save it again",
        )


def _is_needed(marker: int, content: bytes) -> bool:
    if marker in _MEANING:
        return content.startswith(_MEANING[marker])
    return marker != _COMMENT and not _APP_FIRST <= marker <= _APP_LAST
