"""Which renderings outlive their mixes? Those of players that others are changed beside.

Most changes touch the melody, and the band behind it would be rendered anew for every mix
that has both. So what was rendered of it is kept, raw, under the hash of the MIDI file it
was made from: 11 MB a minute, on a cache of its own that keeps only the latest. Of
melodies only the last is remembered.
"""

from __future__ import annotations

import struct

import numpy as np

from kit.cache import Cache, default_cache, fingerprint
from kit.sound.synth import Synth, Take

__all__ = ["kept_take", "last_take"]

_SHARE = 5
"""It may hold a fifth of what the usual one may."""
_HEAD = struct.Struct("<2sd")
"""NumPy's name of the kind of number, and the gain."""
_NUMBERS = (b"i2", b"f4")


_last: dict[str, Take] = {}
"""At most one."""


def last_take(synth: Synth, midi: bytes) -> Take:
    """Give what the synthesiser makes of a MIDI file; the last one is remembered.

    A melody is asked for twice in a row, for its file and for the page's mixer, and hardly
    ever again: it changes with every edit.
    """
    key = fingerprint("take", synth.key, midi)
    take = _last.get(key)
    if take is None:
        take = synth.render(midi)
        _last.clear()
        _last[key] = take
    return take


def kept_take(synth: Synth, midi: bytes) -> Take:
    """Give what the synthesiser makes of a MIDI file, rendered if it is not there."""
    usual = default_cache()
    # Nobody counts on finding anything here, so nothing is spared for being in use.
    cache = Cache(
        usual.folder,
        limit_bytes=usual.limit_bytes // _SHARE,
        in_use_s=0,
        part="takes",
    )

    def rendered() -> bytes:
        take = synth.render(midi)
        numbers = take.data.astype(take.data.dtype.newbyteorder("<"), copy=False)
        head = _HEAD.pack(numbers.dtype.str[1:].encode(), take.gain)
        return b"".join((head, numbers.data.cast("B")))

    take = cache.parsed_through(fingerprint("take", synth.key, midi), rendered, _take_of)
    cache.trim()
    return take


def _take_of(entry: bytes) -> Take:
    if len(entry) < _HEAD.size:
        raise ValueError("this is no sound")
    kind, gain = _HEAD.unpack_from(entry)
    if kind not in _NUMBERS or (len(entry) - _HEAD.size) % (2 * int(kind[1:])):
        raise ValueError("these are no whole samples")
    numbers = np.frombuffer(entry, f"<{kind.decode()}", offset=_HEAD.size)
    return Take(numbers.reshape(-1, 2), gain)
