"""A player's sound in pieces: put together by their places it is the sound it was."""

from __future__ import annotations

import shutil
import subprocess

import numpy as np
import pytest

from kit.sound.stem_pieces import (
    LEAD,
    MEASURE_AT,
    OVERLAP,
    STEM_KBPS,
    first_sample,
    measure_piece,
    stem_pieces,
)

RATE = 48_000
FFMPEG_FORMAT = ["-f", "f32le", "-ac", "1", "-ar", str(RATE), "pipe:1"]


def decoded(piece: bytes) -> np.ndarray:
    """Decode by ffmpeg, all of the decoder's own delay left in."""
    program = shutil.which("ffmpeg")
    assert program, "this test needs ffmpeg"
    done = subprocess.run(
        [program, "-v", "error", "-flags2", "skip_manual", "-i", "pipe:0", *FFMPEG_FORMAT],
        input=piece,
        capture_output=True,
        check=True,
    )
    return np.frombuffer(done.stdout, "<f4")


def test_pieces_begin_short_and_follow_without_a_gap():
    starts = [first_sample(number) / RATE for number in range(6)]
    assert starts == [0, 2, 6, 18, 30, 42]


def test_silence_has_no_pieces_and_a_short_sound_one():
    assert stem_pieces(np.zeros(0, np.float32), 56) == []
    assert len(stem_pieces(np.ones(100, np.float32), 56)) == 1


@pytest.mark.parametrize("kbps", sorted(set(STEM_KBPS.values())))
def test_no_frame_is_padded(kbps):
    """144000 x kbps / 48000 is whole (ISO/IEC 11172-3), so all frames have one size."""
    piece = stem_pieces(np.sin(np.arange(RATE) * 0.05).astype(np.float32), kbps)[0]
    size = 3 * kbps
    assert len(piece) % size == 0
    assert all(piece[n : n + 2] == b"\xff\xfb" for n in range(0, len(piece), size))


def test_put_together_they_are_the_sound_they_were():
    """As a browser does it: the decoder's delay measured by a click, ends faded over."""
    rng = np.random.default_rng(5)
    seconds = 7
    moments = np.arange(seconds * RATE) / RATE
    sound = np.sin(2 * np.pi * 220 * moments) * 0.3
    for at in rng.integers(0, len(sound) - RATE // 10, 20):
        length = RATE // 10
        sound[at : at + length] += (
            0.2
            * np.exp(-np.arange(length) / 800)
            * np.sin(2 * np.pi * 900 * np.arange(length) / RATE)
        )
    click = decoded(measure_piece())
    delay = int(np.argmax(np.abs(click))) - MEASURE_AT
    assert 0 <= delay < 3 * 1152
    heard, tail = [], None
    pieces = stem_pieces(sound.astype(np.float32), 160)
    for number, piece in enumerate(pieces):
        first = delay + LEAD
        length = min(first_sample(number + 1), len(sound)) - first_sample(number)
        samples = decoded(piece)[first : first + length + OVERLAP].astype(float)
        if tail is not None:
            share = np.arange(OVERLAP) / OVERLAP
            samples[:OVERLAP] = samples[:OVERLAP] * share + tail * (1 - share)
        heard.append(samples[:length])
        tail = samples[length : length + OVERLAP]
    whole = np.concatenate(heard)
    assert len(whole) == len(sound)
    error = whole - sound
    assert np.sqrt(np.mean(error**2)) < 0.06 * np.sqrt(np.mean(sound**2))
    # To the sample: a sample earlier or later it fits less well, in every piece.
    for number in range(len(pieces)):
        span = slice(first_sample(number) + 10, first_sample(number + 1) - 10)
        off = [np.mean((np.roll(whole, n) - sound)[span] ** 2) for n in range(-2, 3)]
        assert int(np.argmin(off)) == 2, off
    for number in range(1, len(pieces)):
        at = first_sample(number)
        assert np.abs(error[at - OVERLAP : at + 2 * OVERLAP]).max() < 0.05
