"""How does each player sound alone, ready to be summed into any mix?

A stem is what a player sounds like, in balance with the others: the level of each program
is measured (`kit.sound._patch`) and brought to its place in ``mixes.toml``, so the balance
does not depend on the SoundFont. Where a section has another sound than the rest, that is
rendered by itself, in balance as well. A stem is listened to in pieces, so that none is
ever held as floating-point numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.sound._patch import PERCUSSION, Patch, measure_patch
from kit.sound._strokes import place_strokes
from kit.sound._takes import kept_take, last_take
from kit.sound.midi_file import VOLUME, to_midi
from kit.sound.mix_names import mix_table
from kit.sound.synth import SAMPLE_RATE_HZ, Synth, Take

Samples = NDArray[np.float32]

__all__ = ["Stem", "render_stem", "sample_count", "sum_stems"]

RING_S = 3.0
_REFERENCE_LUFS = -24.0
_PIECE = SAMPLE_RATE_HZ // 2
_MOST_CHANGED = "melody"


class Stem(Protocol):
    """Audio that gives any piece of itself: a `Take`, or `kit.sound._strokes.Strokes`."""

    def __len__(self) -> int:
        """Length in samples."""
        ...

    def floats(self, start: int = 0, stop: int | None = None) -> Samples:
        """Give a piece as float32, full scale 1.0."""
        ...


@dataclass(frozen=True, slots=True)
class _Sum:
    """Several stems at once."""

    stems: tuple[Stem, ...]

    def __len__(self) -> int:
        return max(len(stem) for stem in self.stems)

    def floats(self, start: int = 0, stop: int | None = None) -> Samples:
        first = self.stems[0].floats(start, stop)
        for stem in self.stems[1:]:
            piece = stem.floats(start, stop)
            longer, shorter = (first, piece) if len(first) >= len(piece) else (piece, first)
            longer[: len(shorter)] += shorter
            first = longer
        return first


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
    if len(heard) == 1 and heard[0] in PERCUSSION:
        return _percussion(performance, heard[0], synth)
    parts = [_tuned(p, names, synth) for p, names in _by_program(performance, heard)]
    return parts[0] if len(parts) == 1 else _Sum(tuple(parts))


def _by_program(
    performance: Performance, players: Sequence[str]
) -> list[tuple[Performance, tuple[str, ...]]]:
    """Take what sections play with sounds of their own apart from the rest."""
    own: dict[tuple[str, int], list[NoteEvent]] = {}
    rest = []
    for event in performance.events:
        if event.player not in players:
            continue
        if event.program in (None, performance.programs.get(event.player, 0)):
            rest.append(event)
        else:
            own.setdefault((event.player, event.program or 0), []).append(event)
    parts: list[tuple[Performance, tuple[str, ...]]] = [
        (
            replace(
                performance,
                events=tuple(replace(event, program=None) for event in events),
                programs={**performance.programs, player: program},
            ),
            (player,),
        )
        for (player, program), events in sorted(own.items())
    ]
    left = tuple(name for name in players if any(event.player == name for event in rest))
    if left:
        parts.insert(0, (replace(performance, events=tuple(rest)), left))
    return parts


def _percussion(performance: Performance, player: str, synth: Synth) -> Stem:
    usual = performance.programs.get(player, 0)
    by_kit: dict[int, list[NoteEvent]] = {}
    for event in performance.of(player):
        kit = usual if event.program is None else event.program
        by_kit.setdefault(kit, []).append(event)
    parts = [
        place_strokes(
            events,
            synth=synth,
            player=player,
            kit=kit,
            sample_count=_percussion_count(performance, player),
            gain=10 ** (_gain_db(player, measure_patch(synth, kit, events)) / 20),
        )
        for kit, events in sorted(by_kit.items())
    ]
    return parts[0] if len(parts) == 1 else _Sum(tuple(parts))


def _tuned(performance: Performance, players: Sequence[str], synth: Synth) -> Take:
    patches = {
        player: measure_patch(
            synth, performance.programs.get(player, 0), performance.of(player)
        )
        for player in players
    }
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
        slurred_leads_s={
            player: patch.slurred_leads_s
            for player, patch in patches.items()
            if patch.slurred_leads_s is not None
        },
        volumes=volumes,
        tail_s=RING_S,
        stops=True,
    )
    take = (last_take if _MOST_CHANGED in players else kept_take)(synth, midi)
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
