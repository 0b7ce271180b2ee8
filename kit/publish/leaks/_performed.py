"""Which seconds of members' sound does no free level have?

A level at the same tempo and feel, over the same changes, is played the same way by the
band, up to the bar where something differs. What the band plays there is free with the
free level. So a stretch of a mix is the members' alone if something sounds in it that no
performance of a free level has at that place of a bar. That follows from the lesson: from
sheets, changes, routes, feels and tempos; no file is asked.

Conventions: seconds on the audio's own clock.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kit.band.events import NoteEvent, Performance
from kit.cache import Cache, code_fingerprint, fingerprint
from kit.lesson.lesson import Lesson
from kit.publish.leaks._kept import arrays_of, kept_through, packed_arrays
from kit.publish.leaks._rules import Rules
from kit.sound.mix_names import mix_table
from kit.tracks.loops import Loop, level_loops, loop_performance
from kit.tracks.rendition import rendition

__all__ = ["Played", "PlayedAlone"]

_PLAYERS = ("melody", "bass", "chords", "drums")
"""Sticks and clicks are everybody's."""
_EARLY_S = 0.06
"""Players come in so much early at most."""


@dataclass(frozen=True, slots=True)
class Played:
    """What is played in one file: moments, players (index) and hashes of the sounds."""

    moments: NDArray[np.float64]
    players: NDArray[np.int8]
    hashes: NDArray[np.uint64]


class PlayedAlone:
    """Answers for one lesson, each performance computed when it is asked for.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    rules : Rules
        What is given away.
    cache : Cache
        Keeps what was computed.
    """

    def __init__(self, lesson: Lesson, rules: Rules, cache: Cache) -> None:
        self.lesson = lesson
        self.rules = rules
        self.cache = cache
        self._free: NDArray[np.uint64] | None = None

    def moments(
        self, level: str, mix: str, percent: int, instrument: str = ""
    ) -> NDArray[np.float64]:
        """Give the moments of a mix at which something sounds that no free level has."""
        return self._alone(self._level(level, percent, instrument), mix)

    def player_moments(self, level: str, player: str) -> NDArray[np.float64]:
        """Give the same for one player alone, at the level's own tempo."""
        return self._alone_of(self._level(level, 100), {player})

    def loop_moments(self, level: str, mix: str, loop: str) -> NDArray[np.float64]:
        """Give the same for a loop, by the name it has in file names."""
        for one in level_loops(self.lesson, level):
            if one.name == loop:
                return self._alone(self._loop(level, one), mix)
        return np.zeros(1)

    def _alone(self, played: Played, mix: str) -> NDArray[np.float64]:
        return self._alone_of(played, set(mix_table().players(mix)))

    def _alone_of(self, played: Played, players: set[str]) -> NDArray[np.float64]:
        heard = [_PLAYERS.index(name) for name in players & set(_PLAYERS)]
        alone = np.isin(played.players, heard) & ~np.isin(
            played.hashes, self._free_sounds()
        )
        return played.moments[alone]

    def _free_sounds(self) -> NDArray[np.uint64]:
        if self._free is None:
            found = [np.zeros(0, np.uint64)]
            for level in self.rules.free_levels:
                if self.rules.gives("audio"):
                    tempos = self.lesson.settings.audio.tempos
                    found += [self._level(level, percent).hashes for percent in tempos]
                    found += [
                        self._level(level, 100, one.slug).hashes
                        for one in self.lesson.settings.instruments
                    ]
                if self.rules.gives("loop"):
                    loops = level_loops(self.lesson, level)
                    found += [self._loop(level, loop).hashes for loop in loops]
            self._free = np.unique(np.concatenate(found))
        return self._free

    def _level(self, level: str, percent: int, instrument: str = "") -> Played:
        planned = rendition(
            self.lesson, level, tempo_percent=percent, instrument=instrument
        )
        tempo = planned.tempo_qpm
        starts = [planned.route.second_at(bar.start, tempo) for bar in planned.route.bars]
        return self._kept(repr(planned), lambda: _played(planned.perform(), starts))

    def _loop(self, level: str, loop: Loop) -> Played:
        planned = rendition(self.lesson, level)
        return self._kept(
            f"loop {loop!r} {planned!r} {self.lesson.level(level).order!r}",
            lambda: _played(loop_performance(self.lesson, level, loop), [0.0]),
        )

    def _kept(self, source: str, play: Callable[[], Played]) -> Played:
        code = code_fingerprint("band", "route", "publish/leaks")
        key = fingerprint("leaks, what is played", code, source)

        def packed() -> bytes:
            played = play()
            return packed_arrays(m=played.moments, p=played.players, h=played.hashes)

        return kept_through(self.cache, key, packed, _played_of)


def _played_of(entry: bytes) -> Played:
    kinds: dict[str, Any] = {"m": (np.float64, 1), "p": (np.int8, 1), "h": (np.uint64, 1)}
    kept: Any = arrays_of(entry, kinds)
    if not len(kept["m"]) == len(kept["p"]) == len(kept["h"]):
        raise ValueError("these are not as many players as moments")
    return Played(kept["m"], kept["p"], kept["h"])


def _played(performance: Performance, starts: Sequence[float]) -> Played:
    events = [event for event in performance.events if event.player in _PLAYERS]
    return Played(
        np.array([event.start_s for event in events], float),
        np.array([_PLAYERS.index(event.player) for event in events], np.int8),
        np.array(list(_hashes(events, starts, performance)), np.uint64),
    )


def _hashes(
    events: Iterable[NoteEvent], starts: Sequence[float], performance: Performance
) -> Iterator[int]:
    for event in events:
        bar = max(0, bisect_right(starts, event.start_s + _EARLY_S) - 1)
        moment = round((event.start_s - starts[bar]) * 1000)
        program = performance.programs.get(event.player, 0)
        said = (event.player, program, event.midi, moment, event.velocity,
                round(event.duration_s * 1000), performance.a4_hz)  # fmt: skip
        yield int.from_bytes(
            hashlib.blake2b(repr(said).encode(), digest_size=8).digest(), "little"
        )
