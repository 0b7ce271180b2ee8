"""What can be heard on the page, and where does each sound come from?

A page mixes the players of a level itself, from files beside it (`kit.publish.page.beside`)
that it fetches when the student wants to hear something; a page that is to be mailed holds
them. The finished mixes beside it are for download, and for browsers that cannot mix.

Conventions
-----------
* ``audio/<level>-<mix>.mp3`` is at the level's own tempo, ``audio/<level>-<mix>-NN.mp3`` at
  NN per cent of it.
* Paths are relative to the page, so they work from disk and on any site.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from kit.publish.page.beside import band_path, melody_path

__all__ = [
    "LARGEST_PAGE_BYTES",
    "MIXES",
    "PLAYERS",
    "SoundFile",
    "fitting_files",
    "level_sound",
    "sound_files",
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

PLAYERS = {
    "melody": "Melody",
    "bass": "Bass",
    "chords": "Chords",
    "drums": "Drums",
    "click": "Clicks",
    "all": "All together",
}
"""Whom a student can turn up and down, in order, and what the page calls them."""

LARGEST_PAGE_BYTES = {"members": 15_000_000, "public": 3_000_000}
"""What a page with everything inside may weigh: more is hardly mailed."""


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


def level_sound(
    level: str, instruments: Sequence[str], paths: Collection[str]
) -> dict[str, Any] | None:
    """Say where the page finds the players of a level.

    Parameters
    ----------
    level : str
        The level.
    instruments : sequence of str
        The lesson's, the default first.
    paths : collection of str
        What lies beside the page or in it.

    Returns
    -------
    dict or None
        ``path`` of the band, ``melodies`` by instrument; None where one is missing.
    """
    melodies = {
        slug: melody_path(level, slug)
        for slug in instruments
        if melody_path(level, slug) in paths
    }
    if band_path(level) not in paths or not melodies:
        return None
    return {"path": band_path(level), "melodies": melodies}


def fitting_files(files: Mapping[str, bytes], *, audience: str, room: int) -> list[str]:
    """Choose the files that fit into a page, in the order in which they are wanted.

    Parameters
    ----------
    files : mapping of path to bytes
        All that would be wanted, the most wanted first.
    audience : "members" or "public"
        Whose page.
    room : int
        What the page takes without them.
    """
    left = LARGEST_PAGE_BYTES[audience] - room
    kept = []
    for path, data in files.items():
        if len(data) <= left:
            left -= len(data)
            kept.append(path)
    return kept


def _pattern(level: str, mix: str) -> re.Pattern[str]:
    return re.compile(
        rf"audio/{re.escape(level)}-{mix}(?:-(?P<percent>[1-9]\d{{1,2}}))?\.mp3"
    )
