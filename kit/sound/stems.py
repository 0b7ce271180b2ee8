"""How does each player sound alone, ready to be summed into any mix?

A stem is a `kit.sound.synth.Take` in balance with the others: the level of each program
is measured (`kit.sound.patch`) and brought to its place in ``mixes.toml``, so the balance
does not depend on the SoundFont.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np
from numpy.typing import NDArray

from kit.band.events import Performance
from kit.sound.midi_file import to_midi
from kit.sound.patch import measure_patch
from kit.sound.strokes import render_strokes
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, Take

Samples = NDArray[np.float32]

__all__ = ["MixTable", "mix_table", "render_stem", "sample_count", "sum_stems"]

RING_S = 3.0
_REFERENCE_LUFS = -24.0
_PIECE = 10 * SAMPLE_RATE_HZ
_PERCUSSION = frozenset({"drums", "count", "click"})
_TIMBRE_KEYS = {"drums": (38, 51), "count": (31,), "click": (76, 77)}
"""Keys whose mean level stands for the player's: snare and ride for the kit."""


@dataclass(frozen=True, slots=True)
class MixTable:
    """``mixes.toml``: players by mix, and the level of each player."""

    mixes: Mapping[str, tuple[str, ...]]
    balance_lu: Mapping[str, float]

    def players(self, mix: str) -> tuple[str, ...]:
        """Give a mix's players, the count-in among them.

        Raises
        ------
        ValueError
            If there is no such mix.
        """
        if mix not in self.mixes:
            raise ValueError(f"no mix {mix!r}; there are {', '.join(self.mixes)}")
        return (*self.mixes[mix], "count")


@cache
def mix_table() -> MixTable:
    """Read ``mixes.toml``."""
    text = (files("kit.sound") / "mixes.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    mixes = {name: tuple(players) for name, players in table["mixes"].items()}
    return MixTable(mixes, table["balance_lu"])


def sample_count(performance: Performance) -> int:
    """Give the length of a performance's audio with its ring-out, in samples."""
    return round((performance.seconds + RING_S) * SAMPLE_RATE_HZ)


def render_stem(performance: Performance, player: str, synth: Synth) -> Take:
    """Render one player alone."""
    events = performance.of(player)
    if not events:
        return Take(_nothing())
    program = performance.programs.get(player, 0)
    if player in _PERCUSSION:
        patch = measure_patch(synth, player, program, _TIMBRE_KEYS[player])
        take = Take(
            render_strokes(
                events,
                synth=synth,
                player=player,
                kit=program,
                sample_count=_percussion_count(performance, player),
            )
        )
    else:
        keys = sorted({event.midi for event in events})
        patch = measure_patch(synth, player, program, keys)
        midi = to_midi(performance, players=[player], leads_s=patch.leads_s, tail_s=RING_S)
        take = synth.render(midi)
    if patch.level_lufs == -math.inf:
        return take
    gain_db = _REFERENCE_LUFS + mix_table().balance_lu[player] - patch.level_lufs
    return replace(take, gain=take.gain * 10 ** (gain_db / 20))


def sum_stems(stems: Sequence[Take], count: int) -> Samples:
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


def _nothing() -> Samples:

    return np.zeros((0, 2), np.float32)
