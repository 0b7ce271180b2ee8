"""From a performance to finished audio: stems once, mixes by summing, loudness, MP3.

The clock of every mix is the route's map: sample 0 is the first click, and the last bar
ends at `Performance.seconds`; behind it the last chord rings out and is faded.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.band.events import Performance
from kit.sound._flac import encode_flac
from kit.sound._id3 import id3_tag
from kit.sound._loudness import normalise
from kit.sound._mp3 import encode
from kit.sound._stems import Stem, render_stem, sample_count, sum_stems
from kit.sound.mix_names import mix_table
from kit.sound.soundfont import SoundFont, find_soundfont
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, open_synth

Samples = NDArray[np.float32]

__all__ = [
    "Rendered",
    "each_mix",
    "encode_lossless",
    "encode_mp3",
    "mp3_tag",
    "render_mixes",
    "render_stretch",
]

_SILENCE_DB = -60.0
_FADE_S = 0.25
_RISE = 48
_AHEAD_S = 0.1
"""More than any sound needs to speak: what begins on a loop's first beat begins earlier."""


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


def each_mix(
    performance: Performance,
    mixes: Sequence[str] = ("demo", "backing", "melody"),
    *,
    soundfont: SoundFont | None = None,
    synth: Synth | None = None,
    apart: bool = False,
    is_loop: bool = False,
) -> Iterator[tuple[str, Rendered]]:
    """Render mixes of one performance, one at a time; each player is rendered once.

    A mix that is let go of before the next one is asked for frees its memory, and so does
    a player who is in none of the mixes to come.

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
    apart : bool
        Render each player alone also where these mixes need it not, because others do
        (`kit.sound.mix_names.MixTable.are_apart`): a mix is then the same among any others.
    is_loop : bool
        End exactly with the last bar and ring on into the first, so that the audio can be
        repeated (`kit.band.loop.loop_of`).

    Yields
    ------
    (str, Rendered)
        Name and audio, in the order of `mixes`.

    Raises
    ------
    ValueError
        If a mix has no such name.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    table = mix_table()
    wanted = [(mix, table.stems(mix, apart=apart, is_loop=is_loop)) for mix in mixes]
    font = soundfont if soundfont is not None else find_soundfont()
    played_by = synth if synth is not None else open_synth(font)
    if is_loop:
        performance = performance.later(_AHEAD_S)
    known: dict[tuple[str, ...], Stem] = {}
    for place, (mix, stems) in enumerate(wanted):
        for players in stems:
            if players not in known:
                known[players] = render_stem(performance, players, played_by)
        audio = sum_stems([known[players] for players in stems], sample_count(performance))
        later = {players for _, others in wanted[place + 1 :] for players in others}
        known = {players: stem for players, stem in known.items() if players in later}
        yield mix, _finished(performance, audio, font.name, is_loop=is_loop)
        del audio


def render_mixes(
    performance: Performance,
    mixes: Sequence[str] = ("demo", "backing", "melody"),
    *,
    soundfont: SoundFont | None = None,
    synth: Synth | None = None,
    is_loop: bool = False,
) -> dict[str, Rendered]:
    """Render mixes of one performance and keep them all; see `each_mix`."""
    return dict(
        each_mix(performance, mixes, soundfont=soundfont, synth=synth, is_loop=is_loop)
    )


def encode_mp3(rendered: Rendered, *, bit_rate_kbps: int = 128, quality: int = 7) -> bytes:
    """Encode a finished mix; see `kit.sound._mp3.encode`. A tag goes in front of it."""
    return encode(rendered.samples, bit_rate_kbps=bit_rate_kbps, quality=quality)


def mp3_tag(tags: Mapping[str, str], *, cover_png: bytes | None = None) -> bytes:
    """Give what stands in front of an MP3's frames; see `kit.sound._id3.id3_tag`."""
    return id3_tag(tags, cover_png=cover_png)


def encode_lossless(rendered: Rendered, *, tags: Mapping[str, str] | None = None) -> bytes:
    """Encode a finished mix as FLAC; see `kit.sound._flac.encode_flac`."""
    return encode_flac(rendered.samples, tags=tags)


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

    Parameters
    ----------
    performance : Performance
        The whole of it.
    start_s, end_s : float
        Seconds from the first click, the first below the second.
    mix : str
        A name of ``mixes.toml``.
    soundfont, synth : optional
        As for `each_mix`.

    Raises
    ------
    ValueError
        If nothing lies between the two moments.
    SetupError
        If there is no SoundFont or no synthesiser.
    """
    cut = performance.between(start_s, end_s)
    return render_mixes(cut, [mix], soundfont=soundfont, synth=synth)[mix]


def _finished(
    performance: Performance, mix: Samples, font_name: str, *, is_loop: bool
) -> Rendered:
    stop = round(performance.seconds * SAMPLE_RATE_HZ)
    if is_loop:
        mix = _wrapped(mix, stop - round(_AHEAD_S * SAMPLE_RATE_HZ))
    else:
        mix = _faded(mix, stop)
        _fade_in(mix)
    lufs, peak = normalise(mix)
    return Rendered(mix, len(mix) / SAMPLE_RATE_HZ, lufs, peak, font_name)


def _faded(mix: Samples, last_bar_end: int) -> Samples:
    """Trim the silence behind the ring-out and fade the last of it."""
    tail = np.abs(mix[last_bar_end:]).max(axis=1)
    peak = max(float(mix.max(initial=0.0)), -float(mix.min(initial=0.0)))
    threshold = peak * 10 ** (_SILENCE_DB / 20)
    loud = np.flatnonzero(tail > threshold)
    fade = round(_FADE_S * SAMPLE_RATE_HZ)
    stop = last_bar_end + (int(loud[-1]) + 1 if len(loud) else 0) + fade
    mix = mix[: min(stop, len(mix))]
    _fade_out(mix, fade)
    return mix


def _wrapped(mix: Samples, stop: int) -> Samples:
    """Lay a loop round on itself: what rings on, and what speaks early, is in other rounds.

    Repeated, the last sample is followed by the first as if the band had played on: there
    is no seam, and nothing is cut off.
    """
    _fade_out(mix, round(_FADE_S * SAMPLE_RATE_HZ))
    laid = np.zeros((stop, 2), np.float32)
    for start in range(0, len(mix), stop):
        piece = mix[start : start + stop]
        laid[: len(piece)] += piece
    return np.roll(laid, -round(_AHEAD_S * SAMPLE_RATE_HZ), axis=0)


def _fade_in(mix: Samples) -> None:
    """Let a sound that starts with the file rise from nothing, within a millisecond."""
    rise = min(_RISE, len(mix))
    mix[:rise] *= np.linspace(0, 1, rise, dtype=np.float32)[:, None]


def _fade_out(mix: Samples, fade: int) -> None:
    fade = min(fade, len(mix))
    # Half a cosine has no corner at either end.
    curve = (1 + np.cos(np.linspace(0, math.pi, fade, dtype=np.float32))) / 2
    mix[len(mix) - fade :] *= curve[:, None]
