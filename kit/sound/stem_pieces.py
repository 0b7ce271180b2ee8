"""How does a player's sound travel to a browser, to start soon and to stay exact?

A stem is cut into *pieces*, each an MP3 of its own, short at first so that music begins
after a few kilobytes. A piece begins a little before its place (`LEAD`), so that the codec
has settled there, and reaches a little beyond it (`OVERLAP`), where a browser fades from
one piece into the next. What a decoder puts in front of the first sample is measured in
the browser itself, by a piece whose content is known (`measure_piece`): decoders differ.

Pieces are mono at 48 kHz; the browser places the players from left to right.

Source: ISO/IEC 11172-3 (at 48 kHz a frame has a whole number of bytes at any bit rate used
here, so that no frame is padded).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import count, takewhile

import lameenc
import numpy as np
from numpy.typing import NDArray

from kit.band.events import Performance
from kit.sound._stems import Stem, render_stem, sample_count
from kit.sound.soundfont import SoundFont
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, open_synth

Samples = NDArray[np.float32]

__all__ = [
    "LEAD",
    "MEASURE_AT",
    "OVERLAP",
    "PLAYERS",
    "STEM_KBPS",
    "each_stem",
    "first_sample",
    "measure_piece",
    "stem_pieces",
]

PLAYERS = ("melody", "bass", "chords", "drums", "count")
"""Whose stems a browser needs; it makes the metronome's clicks itself."""
STEM_KBPS: Mapping[str, int] = {
    "melody": 56,
    "bass": 40,
    "chords": 48,
    "drums": 56,
    "count": 48,
}
"""Our choice by ear and size: 25 kB a second of music in base64 for melody and band."""

LEAD = 2 * 1152
OVERLAP = 256
MEASURE_AT = 4096
_FIRST_S, _SECOND_S, _LATER_S = 2, 4, 12
_SILENCE = 10 ** (-66 / 20)
_GAIN = 10 ** (3 / 20)
"""Players are balanced around -24 LUFS; together they then come to about -19."""
_HIGHEST = 0.97
_QUALITY = 7


def first_sample(number: int) -> int:
    """Give the sample at which a piece begins.

    Examples
    --------
    >>> [first_sample(number) / SAMPLE_RATE_HZ for number in range(5)]
    [0.0, 2.0, 6.0, 18.0, 30.0]
    """
    seconds = (
        (0, _FIRST_S)[number]
        if number < 2
        else (_FIRST_S + _SECOND_S + (number - 2) * _LATER_S)
    )
    return seconds * SAMPLE_RATE_HZ


def each_stem(
    performance: Performance,
    players: Sequence[str],
    *,
    soundfont: SoundFont,
    synth: Synth | None = None,
) -> Iterator[tuple[str, list[bytes]]]:
    """Render players one by one, in balance with each other, and cut them into pieces.

    Parameters
    ----------
    performance : Performance
        What is played.
    players : sequence of str
        Some of `PLAYERS`.
    soundfont : SoundFont
        What it sounds like.
    synth : Synth, optional
        Another synthesiser (tests replace it here).

    Yields
    ------
    (str, list of bytes)
        A player, and the pieces of its stem; none for one who is silent.

    Raises
    ------
    SetupError
        If there is no synthesiser.
    """
    played_by = synth if synth is not None else open_synth(soundfont)
    length = sample_count(performance)
    for player in players:
        stem = render_stem(performance, player, played_by)
        yield player, stem_pieces(_mono(stem, length), STEM_KBPS[player])
        del stem


def _mono(stem: Stem, length: int) -> Samples:
    """Mix a stem down, and leave out the silence behind its last sound."""
    both = stem.floats(0, min(len(stem), length))
    mono = np.asarray(both.sum(axis=1) * np.float32(_GAIN / 2), np.float32)
    loud = np.flatnonzero(np.abs(mono) > _SILENCE)
    mono = mono[: int(loud[-1]) + 1] if len(loud) else mono[:0]
    highest = float(np.abs(mono).max(initial=0.0))
    # A stem that would clip is turned down as a whole: its own balance stays.
    return mono if highest <= _HIGHEST else mono * np.float32(_HIGHEST / highest)


def stem_pieces(mono: Samples, kbps: int) -> list[bytes]:
    """Encode a stem piece by piece.

    Parameters
    ----------
    mono : float32 array, shape (samples,)
        At 48 kHz, full scale 1.0.
    kbps : int
        A bit rate of MPEG-1 layer III.
    """
    if not len(mono):
        return []
    starts = list(takewhile(lambda start: start < len(mono), map(first_sample, count())))
    stops = [*starts[1:], len(mono)]
    padded = np.concatenate(
        [np.zeros(LEAD, np.float32), mono, np.zeros(OVERLAP, np.float32)]
    )
    return [
        _encoded(padded[start : stop + LEAD + OVERLAP], kbps)
        for start, stop in zip(starts, stops, strict=True)
    ]


def measure_piece() -> bytes:
    """Give a piece with one click, at sample `MEASURE_AT`, to measure a decoder by."""
    click = np.zeros(3 * MEASURE_AT, np.float32)
    click[MEASURE_AT] = 0.9
    return _encoded(click, STEM_KBPS["melody"])


def _encoded(mono: Samples, kbps: int) -> bytes:
    encoder = lameenc.Encoder()
    encoder.set_bit_rate(kbps)
    encoder.set_in_sample_rate(SAMPLE_RATE_HZ)
    encoder.set_out_sample_rate(SAMPLE_RATE_HZ)
    encoder.set_channels(1)
    encoder.set_quality(_QUALITY)
    encoder.silence()
    words = np.rint(np.clip(mono, -1, 1) * 32767).astype("<i2")
    return bytes(encoder.encode(words.tobytes())) + bytes(encoder.flush())
