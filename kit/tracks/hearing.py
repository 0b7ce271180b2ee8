"""How does a player in the notebook come by its first sound quickly?

The bars that are asked for are rendered alone and sent at once (the *opening*); the whole
performance follows when it is ready. Both are played at the tempo asked for, not stretched.

Seconds are on the performance's own clock at that tempo: 0 is the first click of the
count-in.

Everything here raises a LessonError if the level cannot be computed, and a SetupError if
SoundFont or synthesiser are missing.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from kit.lesson.lesson import Lesson
from kit.tracks.audio import PAGE_KBPS, AudioFile, level_audio, takes_for
from kit.tracks.loops import Loop, loop_audio
from kit.tracks.rendition import rendition

if TYPE_CHECKING:
    from kit.band.events import Performance

__all__ = ["bars_looped", "opening_audio", "warm_up", "whole_audio", "whole_if_made"]

_LOCK = threading.Lock()
"""One rendering at a time: the synthesiser does not share its time anyway."""
_WARM_S = 0.3


class _NotMade(Exception):  # noqa: N818 - nothing has gone wrong
    """The audio is not in the cache."""


def whole_if_made(
    lesson: Lesson, level: str, mix: str, *, tempo_percent: float = 100
) -> AudioFile | None:
    """Give a level's audio if it has been rendered before.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level, mix : str
        Whose audio, and which players are in it.
    tempo_percent : float
        Of the level's own tempo.

    Returns
    -------
    AudioFile or None
        None where it is not in the cache; nothing is rendered.
    """

    def play() -> Performance:
        raise _NotMade

    takes = takes_for(lesson, level, tempo_percent=tempo_percent)
    planned = rendition(lesson, level, tempo_percent=tempo_percent)
    place = (mix, PAGE_KBPS)
    try:
        return takes.files(planned, play, [place])[place]
    except _NotMade:
        return None


def whole_audio(
    lesson: Lesson, level: str, mix: str, *, tempo_percent: float = 100
) -> AudioFile:
    """Give a level's audio, rendered if need be; it is kept in the cache."""
    with _LOCK:
        made = level_audio(
            lesson, level, (mix,), bit_rate_kbps=PAGE_KBPS, tempo_percent=tempo_percent
        )
    return made[mix]


def opening_audio(
    lesson: Lesson,
    level: str,
    mix: str,
    *,
    start_s: float,
    end_s: float,
    tempo_percent: float = 100,
) -> AudioFile:
    """Render what lies between two moments, to be heard while the rest is made.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level, mix : str
        What is heard.
    start_s, end_s : float
        On the clock of the performance at its tempo.
    tempo_percent : float > 0
        Of the level's tempo.

    Raises
    ------
    ValueError
        If nothing lies between the moments, or there is no such mix.
    """
    from kit.sound.render import encode_mp3, render_stretch  # noqa: PLC0415 - needs numpy

    planned = rendition(lesson, level, tempo_percent=tempo_percent)
    takes = takes_for(lesson, level)
    with _LOCK:
        rendered = render_stretch(
            planned.perform(), start_s, end_s, mix=mix, soundfont=takes.font
        )
    return AudioFile.of(rendered, encode_mp3(rendered, bit_rate_kbps=PAGE_KBPS))


def bars_looped(
    lesson: Lesson,
    level: str,
    mix: str,
    bars: tuple[int, int],
    *,
    tempo_percent: float = 100,
) -> AudioFile:
    """Give some bars (printed numbers) as a loop: a bar of sticks, then the bars.

    Raises
    ------
    LessonError
        If the level has no such bars.
    """
    with _LOCK:
        return loop_audio(
            lesson,
            level,
            Loop(*bars),
            mix=mix,
            tempo_percent=tempo_percent,
            bit_rate_kbps=PAGE_KBPS,
        )


def warm_up(lesson: Lesson, level: str, mix: str) -> None:
    """Load libraries and SoundFont, so that the first press of a button need not."""
    start = lesson.level(level).count_in_s
    opening_audio(lesson, level, mix, start_s=start, end_s=start + _WARM_S)
