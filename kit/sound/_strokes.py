"""How is a drum or click part rendered fast and to the sample?

A drum kit repeats a few sounds a thousand times. Each distinct stroke (kit, key, a layer
of velocity) is rendered once by the synthesiser and then placed wherever it is played,
its attack exactly on the planned instant. The sum is the same as playing them all, and it
is made only for the stretch that is asked for: a part costs no memory. The single strokes
go to the cache (`kit.cache`).
"""

from __future__ import annotations

import struct
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.cache import code_fingerprint, default_cache, fingerprint
from kit.sound._patch import onset_s
from kit.sound.midi_file import to_midi
from kit.sound.synth import SAMPLE_RATE_HZ, Synth

Samples = NDArray[np.float32]

__all__ = ["Strokes", "place_strokes"]

# Few, so that a part needs few renderings; a gain makes up for what lies between.
_LAYERS = (32, 64, 96, 118)
_CYMBALS = frozenset({46, 49, 51, 52, 53, 55, 57, 59})
_SHORT_S, _LONG_S = 1.2, 3.5
_LONGEST = round(_LONG_S * SAMPLE_RATE_HZ)
_FRAME_BYTES = 8
"""Left and right, a float of four bytes each."""
_SILENT_SHARE = 10 ** (-60 / 20)

_ATTACK = struct.Struct("<i")
"""In front of a stroke's samples in the cache: where among them its attack is."""

_known: dict[tuple[str, str, int, int, int], tuple[Samples, int]] = {}


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """A percussion part: sounds, each with its first sample and its gain, in order.

    It is listened to like a `kit.sound.synth.Take`.
    """

    placed: tuple[tuple[int, Samples, np.float32], ...]
    count: int

    def __len__(self) -> int:
        """Length in samples."""
        return self.count

    def floats(self, start: int = 0, stop: int | None = None) -> Samples:
        """Give a piece as float32, full scale 1.0."""
        stop = self.count if stop is None else min(stop, self.count)
        mix = np.zeros((max(0, stop - start), 2), np.float32)
        near = bisect_left(self.placed, start - _LONGEST, key=_first_sample)
        for at, sound, gain in self.placed[near:]:
            if at >= stop:
                break
            piece = sound[max(0, start - at) : stop - at]
            if len(piece):
                place = max(0, at - start)
                mix[place : place + len(piece)] += piece * gain
        return mix


def _first_sample(placed: tuple[int, Samples, np.float32]) -> int:
    return placed[0]


def place_strokes(
    events: Sequence[NoteEvent],
    *,
    synth: Synth,
    player: str,
    kit: int,
    sample_count: int,
    gain: float = 1.0,
) -> Strokes:
    """Make a percussion part.

    Parameters
    ----------
    events : sequence of NoteEvent
        Strokes; their durations do not matter.
    synth : Synth
        Renders the single strokes.
    player : str
        Decides pan and room.
    kit : int
        Number of the drum kit, for strokes that name none of their own.
    sample_count : int
        Length of the result.
    gain : float
        For all of it.
    """
    needed = {(_kit_of(e, kit), e.midi, _layer(e.velocity)) for e in events}
    for own, key, layer in sorted(needed):
        if (synth.key, player, own, key, layer) not in _known:
            _known[synth.key, player, own, key, layer] = _kept_stroke(
                NoteEvent(player, key, 0.0, 0.1, layer), synth, own
            )
    placed: list[tuple[int, Samples, np.float32]] = []
    for event in events:
        layer = _layer(event.velocity)
        own = _kit_of(event, kit)
        sound, attack = _known[synth.key, player, own, event.midi, layer]
        # Loudness goes with the square of velocity (SoundFont 2.04, 8.4.1, roughly).
        loudness = np.float32(gain * (event.velocity / layer) ** 2)
        placed.append((round(event.start_s * SAMPLE_RATE_HZ) - attack, sound, loudness))
    return Strokes(tuple(sorted(placed, key=_first_sample)), sample_count)


def _kit_of(event: NoteEvent, usual: int) -> int:
    return usual if event.program is None else event.program


def _layer(velocity: int) -> int:
    return min(_LAYERS, key=lambda layer: abs(layer - velocity))


def _kept_stroke(event: NoteEvent, synth: Synth, kit: int) -> tuple[Samples, int]:
    name = fingerprint("stroke", code_fingerprint("sound"), synth.key, event, kit)

    def made() -> bytes:
        sound, attack = _stroke(event, synth, kit)
        return _ATTACK.pack(attack) + sound.astype("<f4").tobytes()

    return default_cache().parsed_through(name, made, _sound_and_attack)


def _sound_and_attack(entry: bytes) -> tuple[Samples, int]:
    if len(entry) < _ATTACK.size or (len(entry) - _ATTACK.size) % _FRAME_BYTES:
        raise ValueError("these are no whole samples")
    sound = np.frombuffer(entry, "<f4", offset=_ATTACK.size).reshape(-1, 2)
    attack: int = _ATTACK.unpack_from(entry)[0]
    if not 0 <= attack <= len(sound) or len(sound) > _LONGEST:
        raise ValueError("this is no single stroke")
    return sound, attack


def _stroke(event: NoteEvent, synth: Synth, kit: int) -> tuple[Samples, int]:
    """Give a stroke's sound, and its attack in samples; alone, no other rings into it."""
    length_s = _LONG_S if event.midi in _CYMBALS else _SHORT_S
    score = Performance((event,), length_s, 0.0, {event.player: kit})
    sound = synth.render(to_midi(score, players=[event.player], tail_s=0.0)).floats()
    level = np.abs(sound).max(axis=1)
    loud = np.flatnonzero(level > _SILENT_SHARE * level.max(initial=0.0))
    sound = sound[: loud[-1] + 1] if len(loud) else sound[:0]
    # Cut off at -60 dB without a fade, the end would click.
    fade = min(len(sound), SAMPLE_RATE_HZ // 50)
    if fade:
        sound[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)[:, None]
    return sound, round(onset_s(sound) * SAMPLE_RATE_HZ) if len(sound) else 0
