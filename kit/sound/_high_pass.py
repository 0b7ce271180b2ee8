"""What of a rendering is no music: everything below the lowest note of the band.

A sample of a SoundFont may not lie about zero. Each note then lifts the loudspeaker's cone
and holds it there, which nobody hears, and which the loudness and the limiter pay for. So
whatever a synthesiser renders is passed through a high-pass, whatever the font.

Source: the lowest note of a bass is E1, 41.2 Hz (equal temperament, A4 = 440 Hz); the
filter is Butterworth's, of the fourth order, as in every textbook of signal processing.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

__all__ = ["HIGH_PASS", "high_passed"]

_EDGE_HZ = 25.0
"""E1 loses 0.07 dB, the B below it, of a bass of five strings, 0.7 dB."""
HIGH_PASS = f"high-pass {_EDGE_HZ:g} Hz"
"""For keys of what was rendered: other filters give other samples."""
_PIECE = 1 << 18

Sample = TypeVar("Sample", np.int16, np.float32)


def high_passed(samples: NDArray[Sample], rate_hz: int) -> NDArray[Sample]:
    """Take away what lies below the music, in the numbers that it came in.

    Parameters
    ----------
    samples : int16 or float32 array, shape (samples, channels)
        As rendered.
    rate_hz : int
        Samples a second.
    """
    sections = butter(4, _EDGE_HZ, "highpass", fs=rate_hz, output="sos")
    state = np.zeros((len(sections), 2, samples.shape[1]))
    passed = np.empty_like(samples)
    # In pieces: minutes of sound as 64-bit numbers would be the largest thing in a build.
    for start in range(0, len(samples), _PIECE):
        piece, state = sosfilt(
            sections, samples[start : start + _PIECE].astype(np.float64), axis=0, zi=state
        )
        if samples.dtype == np.int16:
            piece = np.clip(np.rint(piece), -32768, 32767)
        passed[start : start + _PIECE] = piece
    return passed
