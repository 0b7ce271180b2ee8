"""How is audio packed as an MP3 whose clock is the map's clock?

LAME adds 576 samples of its own delay and a decoder 529 more; players take both away if
the file says so in its first frame. lameenc leaves that frame out, so we write it.
With it, sample 0 of the decoded file is sample 0 of the mix, and the length is exact.

Source: ISO/IEC 11172-3 (bit rates); the frame itself is in `kit.sound._mp3_info`.
"""

from __future__ import annotations

import lameenc
import numpy as np
from numpy.typing import NDArray

from kit.sound._mp3_info import BIT_RATES_KBPS, SAMPLE_RATE_HZ, info_frame

__all__ = ["encode"]

_PIECE = SAMPLE_RATE_HZ
_LAME_SCALE = {192: 0.97, 224: 0.98}


def encode(
    samples: NDArray[np.float32],
    *,
    bit_rate_kbps: int = 128,
    quality: int = 7,
) -> bytes:
    """Encode stereo audio.

    Parameters
    ----------
    samples : float32 array, shape (samples, 2)
        At 48 kHz, full scale 1.0.
    bit_rate_kbps : int
        One of `BIT_RATES_KBPS`.
    quality : int, 0 to 9
        LAME's own scale: 2 is slow and best, 7 fast.

    Raises
    ------
    ValueError
        If shape or bit rate are not as above.
    """
    if samples.ndim != 2 or samples.shape[1] != 2:
        raise ValueError(f"audio must have the shape (samples, 2), not {samples.shape}")
    if bit_rate_kbps not in BIT_RATES_KBPS:
        raise ValueError(f"{bit_rate_kbps} kbps is not one of {BIT_RATES_KBPS}")
    encoder = lameenc.Encoder()
    encoder.set_bit_rate(bit_rate_kbps)
    encoder.set_in_sample_rate(SAMPLE_RATE_HZ)
    encoder.set_out_sample_rate(SAMPLE_RATE_HZ)
    encoder.set_channels(2)
    encoder.set_quality(quality)
    encoder.silence()
    gain = np.float32(32767 / _lame_scale(bit_rate_kbps))
    audio = bytearray()
    for start in range(0, len(samples), _PIECE):
        scaled = samples[start : start + _PIECE] * gain
        np.rint(np.clip(scaled, -32767, 32767, out=scaled), out=scaled)
        audio += encoder.encode(scaled.astype("<i2").tobytes())
    audio += encoder.flush()
    content = bytes(audio)
    return info_frame(content, len(samples)) + content


def _lame_scale(bit_rate_kbps: int) -> float:
    """Say by how much LAME turns audio down at a constant bit rate (measured)."""
    return _LAME_SCALE.get(bit_rate_kbps, 0.95 if bit_rate_kbps < 192 else 1.0)
