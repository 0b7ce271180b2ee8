"""How is audio kept without loss, for those who go on working with it?

As FLAC with 24 bits: what the mix holds, to the sample and far below hearing.

Source: FLAC (RFC 9639), written by libsndfile.
"""

from __future__ import annotations

import io
from collections.abc import Mapping

import numpy as np
import soundfile
from numpy.typing import NDArray

from kit.sound.synth import SAMPLE_RATE_HZ

__all__ = ["encode_flac"]

_NAMES = {
    "title": "title",
    "artist": "artist",
    "album": "album",
    "track": "tracknumber",
    "copyright": "copyright",
}
_IN_COMMENT = ("composer", "bpm", "key", "comment")
"""libsndfile writes no tags of these names."""


def encode_flac(
    samples: NDArray[np.float32], *, tags: Mapping[str, str] | None = None
) -> bytes:
    """Encode stereo audio at 48 kHz, full scale 1.0, shape (samples, 2).

    Raises
    ------
    ValueError
        If the shape or a tag's name is another.
    """
    if samples.ndim != 2 or samples.shape[1] != 2:
        raise ValueError(f"audio must have the shape (samples, 2), not {samples.shape}")
    named = dict(tags or {})
    unknown = set(named) - {*_NAMES, *_IN_COMMENT}
    if unknown:
        raise ValueError(
            f"no tag {min(unknown)!r}; there are {', '.join((*_NAMES, *_IN_COMMENT))}"
        )
    comment = "; ".join(f"{name}: {named[name]}" for name in _IN_COMMENT if named.get(name))
    texts = {_NAMES[name]: text for name, text in named.items() if name in _NAMES}
    content = io.BytesIO()
    with soundfile.SoundFile(
        content, "w", SAMPLE_RATE_HZ, 2, format="FLAC", subtype="PCM_24"
    ) as file:
        for name, text in {**texts, "comment": comment}.items():
            if text:
                setattr(file, name, "".join(c for c in text if c.isprintable()))
        file.write(samples)
    return content.getvalue()
