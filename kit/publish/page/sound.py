"""What can be heard on the page, and where does each sound come from?

A page carries a level's main mixes inside itself, so that it plays wherever it is opened.
Other mixes, and renderings at other tempos, are files that may lie beside it; the page asks
for one only when the student does, and plays what it carries if the file is not there.

Conventions
-----------
* ``audio/<level>-<mix>.mp3`` is at the level's own tempo, ``audio/<level>-<mix>-NN.mp3`` at
  NN per cent of it.
* Paths are relative to the page, so they work from disk and on any site.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = [
    "LARGEST_PAGE_BYTES",
    "MIXES",
    "PageSound",
    "SoundFile",
    "fitting_sounds",
    "sound_files",
    "tempo_steps",
]

MIXES = {
    "demo": "melody and band",
    "backing": "the band, you play the melody",
    "melody": "melody alone",
    "no-bass": "no bass, you play it",
    "no-chords": "no chords, you play them",
    "no-drums": "no drums, you play them",
    "melody-click": "melody with clicks",
    "click": "clicks alone",
}
"""Mixes a page can offer, in order, and what it calls them."""

LARGEST_PAGE_BYTES = {"members": 15_000_000, "public": 3_000_000}
"""What a page may weigh; sound that does not fit is left to the audio files beside it."""
_TEXT_BYTES = 250_000
"""Room for words, styles, program and the first notation (measured: 120 to 220 kB)."""


@dataclass(frozen=True, slots=True)
class PageSound:
    """Encoded audio of one level and mix, as base64 text."""

    level: str
    mix: str
    base64: str
    mime: str = "audio/mpeg"

    @property
    def name(self) -> str:
        """How the page's script asks for it."""
        return f"{self.level}/{self.mix}"


@dataclass(frozen=True, slots=True)
class SoundFile:
    """An audio file beside the page, at so many per cent of the level's tempo."""

    path: str
    level: str
    mix: str
    tempo_percent: int = 100


def sound_files(links: Iterable[str], levels: Iterable[str]) -> tuple[SoundFile, ...]:
    """Find the audio among the files beside a page, in the order of `MIXES`.

    Examples
    --------
    >>> sound_files(["audio/easy-demo-70.mp3", "audio/easy-loop-a.mp3"], ["easy"])
    (SoundFile(path='audio/easy-demo-70.mp3', level='easy', mix='demo', tempo_percent=70),)
    """
    paths = sorted(links)
    return tuple(
        SoundFile(path, level, mix, int(match["percent"] or 100))
        for level in levels
        for mix in MIXES
        for path in paths
        if (match := _pattern(level, mix).fullmatch(path))
    )


def tempo_steps(sounds: Sequence[SoundFile]) -> tuple[int, ...]:
    """Give the tempos, in per cent, at which there is a rendering; 100 is always one."""
    return tuple(sorted({100, *(sound.tempo_percent for sound in sounds)}))


def fitting_sounds(
    sounds: Sequence[PageSound], *, audience: str, packs_bytes: int
) -> list[PageSound]:
    """Choose the sounds that fit a page: every level's first mix before any second one.

    Parameters
    ----------
    sounds : sequence of PageSound
        All that would be wanted.
    audience : "members" or "public"
        Whose page.
    packs_bytes : int
        What the notation takes.
    """
    room = LARGEST_PAGE_BYTES[audience] - _TEXT_BYTES - packs_bytes
    mixes = list(MIXES)
    kept: set[str] = set()
    for sound in sorted(sounds, key=lambda sound: mixes.index(sound.mix)):
        if len(sound.base64) <= room:
            room -= len(sound.base64)
            kept.add(sound.name)
    return [sound for sound in sounds if sound.name in kept]


def _pattern(level: str, mix: str) -> re.Pattern[str]:
    return re.compile(
        rf"audio/{re.escape(level)}-{mix}(?:-(?P<percent>[1-9]\d{{1,2}}))?\.mp3"
    )
