"""From a performance to finished audio: stems once, mixes by summing, loudness, MP3.

The clock of every mix is the route's map: sample 0 is the first click, and the last bar
ends at `Performance.seconds`; behind it the last chord rings out and is faded.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.band.events import Performance
from kit.sound.loudness import normalised
from kit.sound.mp3 import encode
from kit.sound.soundfont import SoundFont, find_soundfont
from kit.sound.stems import mix_table, render_stem, sample_count, sum_stems
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, Take, open_synth

Samples = NDArray[np.float32]

__all__ = ["Rendered", "encode_mp3", "mix_names", "render_mixes", "render_stretch"]

_SILENCE_DB = -60.0
_FADE_S = 0.25


@dataclass(frozen=True, slots=True)
class Rendered:
    """A finished mix.

    Parameters
    ----------
    samples : float32 array, shape (samples, 2)
        At 48 kHz, full scale 1.0.
    seconds : float
        Length, ring-out included.
    lufs, true_peak_dbtp : float
        Measured on the samples.
    soundfont : str
        Name of the SoundFont file, for the manifest.
    """

    samples: Samples
    seconds: float
    lufs: float
    true_peak_dbtp: float
    soundfont: str = ""


def mix_names() -> tuple[str, ...]:
    """List the mixes there are: demo, backing, melody and others."""
    return tuple(mix_table().mixes)


def render_mixes(
    performance: Performance,
    mixes: Sequence[str] = ("demo", "backing", "melody"),
    *,
    soundfont: SoundFont | None = None,
    synth: Synth | None = None,
) -> dict[str, Rendered]:
    """Render mixes of one performance; each player is rendered once for all of them.

    Parameters
    ----------
    performance : Performance
        What is played.
    mixes : sequence of str
        Some of `mix_names`.
    soundfont : SoundFont, optional
        `find_soundfont` unless given.
    synth : Synth, optional
        Another synthesiser (tests replace it here).

    Raises
    ------
    ValueError
        If a mix has no such name.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    wanted = {mix: mix_table().players(mix) for mix in mixes}
    font = soundfont if soundfont is not None else find_soundfont()
    played_by = synth if synth is not None else open_synth(font)
    stems: dict[str, Take] = {}
    finished: dict[str, Rendered] = {}
    for mix, players in wanted.items():
        for player in players:
            if player not in stems:
                stems[player] = render_stem(performance, player, played_by)
        finished[mix] = _finished([stems[p] for p in players], performance, font.name)
    return finished


def encode_mp3(
    rendered: Rendered,
    *,
    bit_rate_kbps: int = 128,
    quality: int = 7,
    tags: Mapping[str, str] | None = None,
    cover_png: bytes | None = None,
) -> bytes:
    """Encode a finished mix; see `kit.sound.mp3.encode`."""
    return encode(
        rendered.samples,
        bit_rate_kbps=bit_rate_kbps,
        quality=quality,
        tags=tags,
        cover_png=cover_png,
    )


def render_stretch(
    performance: Performance,
    start_s: float,
    end_s: float,
    *,
    mix: str = "demo",
    soundfont: SoundFont | None = None,
    synth: Synth | None = None,
) -> Rendered:
    """Render only what lies between two moments, for listening at once in the notebook.

    Second 0 of the result is `start_s`, usually a bar's start on the route's map.
    """
    cut = performance.between(start_s, end_s)
    return render_mixes(cut, [mix], soundfont=soundfont, synth=synth)[mix]


def _finished(stems: Sequence[Take], performance: Performance, font_name: str) -> Rendered:
    mix = sum_stems(stems, sample_count(performance))
    mix = _faded(mix, round(performance.seconds * SAMPLE_RATE_HZ))
    samples, lufs, peak = normalised(mix)
    return Rendered(samples, len(samples) / SAMPLE_RATE_HZ, lufs, peak, font_name)


def _faded(mix: Samples, last_bar_end: int) -> Samples:
    """Trim the silence behind the ring-out and fade the last of it."""
    tail = np.abs(mix[last_bar_end:]).max(axis=1)
    peak = max(float(mix.max(initial=0.0)), -float(mix.min(initial=0.0)))
    threshold = peak * 10 ** (_SILENCE_DB / 20)
    loud = np.flatnonzero(tail > threshold)
    fade = round(_FADE_S * SAMPLE_RATE_HZ)
    stop = last_bar_end + (int(loud[-1]) + 1 if len(loud) else 0) + fade
    mix = mix[: min(stop, len(mix))]
    fade = min(fade, len(mix))
    curve = (1 + np.cos(np.linspace(0, math.pi, fade, dtype=np.float32))) / 2
    mix[len(mix) - fade :] *= curve[:, None]
    return mix
