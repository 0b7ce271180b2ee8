"""Some bars of a level as MusicXML, for a notation program or a worksheet."""

from __future__ import annotations

from dataclasses import replace

from kit.lesson.choices import stretch_of
from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.tune.model import Bar
from kit.tune.musicxml.write import write_musicxml

__all__ = ["excerpt_musicxml"]


def excerpt_musicxml(
    lesson: Lesson,
    *,
    level: str,
    instrument: str,
    section: str | None = None,
    bars: tuple[int, int] | None = None,
    key: str | None = None,
) -> str:
    """Write the bars of an excerpt at written pitch.

    Parameters and errors are those of `kit.figures.excerpt`. Repeats and jumps stay only
    where all of the sheet is written: their other ends may lie outside.
    """
    concert_key = practice_key(lesson, key, level=level)
    part = lesson.part(level, instrument, concert_key=concert_key)
    stretch = stretch_of(lesson.level(level), section=section, bars=bars)
    tune, row = part.tune, part.instrument
    chosen = tune.bars[stretch.first : stretch.last + 1]
    if len(chosen) < len(tune.bars):
        first = replace(chosen[0], chords=tune.chords_in_force(stretch.first))
        chosen = tuple(_straight(bar) for bar in (first, *chosen[1:]))
    return write_musicxml(
        replace(tune, bars=chosen),
        clef=row.clef,
        transpose=part.sounding_interval,
        part_name=row.name,
    )


def _straight(bar: Bar) -> Bar:
    return replace(bar, repeat_start=False, repeat_times=0, endings=(), jumps=())
