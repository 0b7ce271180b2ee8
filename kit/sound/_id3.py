"""How do title, artist and album get into an MP3?

As an ID3v2.3 tag in front of the audio: text in UTF-16 with a byte order mark, which every
player reads in any script.

Source: ID3v2.3.0 informal standard (id3.org).
"""

from __future__ import annotations

import struct
from collections.abc import Mapping

__all__ = ["TAG_FRAMES", "id3_tag"]

TAG_FRAMES = {
    "title": "TIT2", "artist": "TPE1", "album": "TALB", "track": "TRCK",
    "composer": "TCOM", "bpm": "TBPM", "key": "TKEY", "copyright": "TCOP",
    "comment": "COMM",
}  # fmt: skip
_LONGEST_TEXT = 1000
_UTF_16 = b"\x01"
_BEFORE = {"COMM": b"und" + b"\xff\xfe\0\0"}
"""A comment has a language, undetermined here (ISO 639-2), and a description, empty."""


def id3_tag(tags: Mapping[str, str], *, cover_png: bytes | None = None) -> bytes:
    """Build the tag, empty if there is nothing to say.

    Parameters
    ----------
    tags : mapping
        Names in `TAG_FRAMES` to text; empty ones are left out.
    cover_png : bytes, optional
        The front cover.

    Raises
    ------
    ValueError
        If a tag has another name.
    """
    unknown = set(tags) - set(TAG_FRAMES)
    if unknown:
        raise ValueError(f"no tag {min(unknown)!r}; there are {', '.join(TAG_FRAMES)}")
    frames = b"".join(
        _frame(frame, _UTF_16 + _BEFORE.get(frame, b"") + _text(tags[name]))
        for name, frame in TAG_FRAMES.items()
        if tags.get(name)
    )
    if cover_png:
        # Latin-1 for the empty description; picture type 3 is the front cover.
        frames += _frame("APIC", b"\x00image/png\x00\x03\x00" + cover_png)
    if not frames:
        return b""
    return b"ID3\x03\x00\x00" + _synchsafe(len(frames)) + frames


def _text(text: str) -> bytes:
    clean = "".join(c if c.isprintable() else " " for c in text)[:_LONGEST_TEXT]
    return b"\xff\xfe" + clean.encode("utf-16-le", "replace")


def _frame(name: str, content: bytes) -> bytes:
    return name.encode("ascii") + struct.pack(">IH", len(content), 0) + content


def _synchsafe(size: int) -> bytes:
    """Write a size in four bytes of seven bits, so that no byte looks like a frame's."""
    return bytes((size >> shift) & 0x7F for shift in (21, 14, 7, 0))
