"""How is a drum or click part rendered fast and to the sample?

A drum kit repeats a few sounds a thousand times. Each distinct stroke (kit, key, a layer
of velocity) is rendered once by the synthesiser and then placed wherever it is played,
its attack exactly on the planned instant. The sum is the same as playing them all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from kit.band.events import NoteEvent, Performance
from kit.sound.midi_file import to_midi
from kit.sound.patch import onset_s
from kit.sound.synth import SAMPLE_RATE_HZ, Synth

Samples = NDArray[np.float32]

__all__ = ["render_strokes"]

_LAYERS = (32, 64, 96, 118)
_CYMBALS = frozenset({46, 49, 51, 52, 53, 55, 57, 59})
_SHORT_S, _LONG_S = 1.2, 3.5
_TREBLE_LIMIT_HZ = 12_000
_SILENT_SHARE = 10 ** (-60 / 20)

_known: dict[tuple[str, str, int, int, int], tuple[Samples, int]] = {}


def render_strokes(
    events: Sequence[NoteEvent], *, synth: Synth, player: str, kit: int, sample_count: int
) -> Samples:
    """Render percussion.

    Parameters
    ----------
    events : sequence of NoteEvent
        Strokes; their durations do not matter.
    synth : Synth
        Renders the single strokes.
    player : str
        Decides pan and room.
    kit : int
        Number of the drum kit.
    sample_count : int
        Length of the result.

    Returns
    -------
    float32 array, shape (sample_count, 2)
    """
    needed = {(event.midi, _layer(event.velocity)) for event in events}
    missing = sorted(
        need for need in needed if (synth.key, player, kit, *need) not in _known
    )
    if missing:
        _render_layers(missing, synth, player, kit)
    mix = np.zeros((sample_count, 2), np.float32)
    for event in events:
        layer = _layer(event.velocity)
        sound, attack = _known[synth.key, player, kit, event.midi, layer]
        # Loudness goes with the square of velocity (SoundFont 2.04, 8.4.1, roughly).
        gain = np.float32((event.velocity / layer) ** 2)
        start = round(event.start_s * SAMPLE_RATE_HZ) - attack
        skip = max(0, -start)
        stop = min(sample_count, start + len(sound))
        if stop > start + skip:
            mix[start + skip : stop] += sound[skip : stop - start] * gain
    return mix


def _layer(velocity: int) -> int:
    return min(_LAYERS, key=lambda layer: abs(layer - velocity))


def _render_layers(
    needs: Sequence[tuple[int, int]], synth: Synth, player: str, kit: int
) -> None:

    events: list[NoteEvent] = []
    places: list[tuple[float, float]] = []
    now = 0.0
    for key, layer in needs:
        length = _LONG_S if key in _CYMBALS else _SHORT_S
        events.append(NoteEvent(player, key, now, 0.1, layer))
        places.append((now, now + length))
        now += length
    score = Performance(tuple(events), now, 0.0, {player: kit})
    audio = synth.render(to_midi(score, players=[player], tail_s=0.0)).floats()
    # Cymbal hiss that MP3 drops anyway would spoil the measured loudness, and tires.
    audio = sosfilt(
        butter(4, _TREBLE_LIMIT_HZ, fs=SAMPLE_RATE_HZ, output="sos"), audio, axis=0
    ).astype(np.float32)
    for (key, layer), (start, stop) in zip(needs, places, strict=True):
        sound = audio[round(start * SAMPLE_RATE_HZ) : round(stop * SAMPLE_RATE_HZ)].copy()
        level = np.abs(sound).max(axis=1)
        loud = np.flatnonzero(level > _SILENT_SHARE * level.max(initial=0.0))
        sound = sound[: loud[-1] + 1] if len(loud) else sound[:0]
        fade = min(len(sound), SAMPLE_RATE_HZ // 50)
        if fade:
            sound[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)[:, None]
        attack = round(onset_s(sound) * SAMPLE_RATE_HZ) if len(sound) else 0
        _known[synth.key, player, kit, key, layer] = (sound, attack)
