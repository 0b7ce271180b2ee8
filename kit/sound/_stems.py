"""How does each player sound alone, ready to be summed into any mix?

A stem is what a player sounds like, in balance with the others: the level of each program
is measured (`kit.sound._patch`) and brought to its place in ``mixes.toml``, so the balance
does not depend on the SoundFont. It is listened to in pieces, so that no stem is ever held
as floating-point numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kit.band.events import Performance
from kit.sound._patch import Patch, measure_patch
from kit.sound._strokes import place_strokes
from kit.sound._takes import kept_take
from kit.sound.midi_file import VOLUME, to_midi
from kit.sound.mix_names import mix_table
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, Take

Samples = NDArray[np.float32]

__all__ = ["Stem", "render_stem", "sample_count", "sum_stems"]

RING_S = 3.0
_REFERENCE_LUFS = -24.0
_PIECE = SAMPLE_RATE_HZ // 2
_MOST_CHANGED = "melody"
_PERCUSSION = frozenset({"drums", "count", "click"})
_TIMBRE_KEYS = {"drums": (38, 51), "count": (31,), "click": (76, 77)}
"""Keys whose mean level stands for the player's: snare and ride for the kit."""


class Stem(Protocol):
    """Audio that gives any piece of itself: a `Take`, or `kit.sound._strokes.Strokes`."""

    def __len__(self) -> int:
        """Length in samples."""
        ...

    def floats(self, start: int = 0, stop: int | None = None) -> Samples:
        """Give a piece as float32, full scale 1.0."""
        ...


def sample_count(performance: Performance) -> int:
    """Give the length of a performance's audio with its ring-out, in samples."""
    return round((performance.seconds + RING_S) * SAMPLE_RATE_HZ)


def render_stem(
    performance: Performance, player: str | Sequence[str], synth: Synth
) -> Stem:
    """Render one player alone, or several tuned players in one pass."""
    players = (player,) if isinstance(player, str) else tuple(player)
    heard = [name for name in players if performance.of(name)]
    if not heard:
        return Take(np.zeros((0, 2), np.float32))
    if len(heard) == 1 and heard[0] in _PERCUSSION:
        return _percussion(performance, heard[0], synth)
    return _tuned(performance, heard, synth)


def _percussion(performance: Performance, player: str, synth: Synth) -> Stem:
    kit = performance.programs.get(player, 0)
    patch = measure_patch(synth, player, kit, _TIMBRE_KEYS[player])
    return place_strokes(
        performance.of(player),
        synth=synth,
        player=player,
        kit=kit,
        sample_count=_percussion_count(performance, player),
        gain=10 ** (_gain_db(player, patch) / 20),
    )


def _tuned(performance: Performance, players: Sequence[str], synth: Synth) -> Take:
    patches = {}
    for player in players:
        keys = sorted({event.midi for event in performance.of(player)})
        program = performance.programs.get(player, 0)
        patches[player] = measure_patch(synth, player, program, keys)
    gains = {player: _gain_db(player, patch) for player, patch in patches.items()}
    loudest = max(gains.values())
    # A channel's volume acts on the amplitude by its square (General MIDI level 1).
    volumes = {
        player: round(VOLUME * 10 ** ((gain - loudest) / 40))
        for player, gain in gains.items()
    }
    midi = to_midi(
        performance,
        players=players,
        leads_s={player: patch.leads_s for player, patch in patches.items()},
        volumes=volumes,
        tail_s=RING_S,
        stops=True,
    )
    # A kept melody would rarely be asked for again: it changes with every edit.
    take = synth.render(midi) if _MOST_CHANGED in players else kept_take(synth, midi)
    return replace(take, gain=take.gain * 10 ** (loudest / 20))


def _gain_db(player: str, patch: Patch) -> float:
    """Give what brings a player to its place in the balance; nothing for silence."""
    if patch.level_lufs == -math.inf:
        return 0.0
    return _REFERENCE_LUFS + mix_table().balance_lu[player] - patch.level_lufs


def sum_stems(stems: Sequence[Stem], count: int) -> Samples:
    """Add stems up: float32, shape (count, 2); shorter stems end early."""
    mix = np.zeros((count, 2), np.float32)
    for start in range(0, count, _PIECE):
        stop = min(count, start + _PIECE)
        for stem in stems:
            piece = stem.floats(start, stop)
            mix[start : start + len(piece)] += piece
    return mix


def _percussion_count(performance: Performance, player: str) -> int:
    if player == "count":
        return round((performance.music_start_s + RING_S) * SAMPLE_RATE_HZ)
    return sample_count(performance)
