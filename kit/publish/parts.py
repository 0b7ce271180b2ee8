"""A level's sheet for one instrument as MusicXML at written pitch, as engraved."""

from __future__ import annotations

from kit.lesson.lesson import Lesson
from kit.tune.musicxml.write import write_musicxml

__all__ = ["part_musicxml"]


def part_musicxml(lesson: Lesson, level: str, instrument: str) -> str:
    """Write the part.

    Raises
    ------
    LessonError
        If the level or the instrument is not in the lesson.
    """
    part = lesson.part(level, instrument)
    row = part.instrument
    return write_musicxml(
        part.tune, clef=row.clef, transpose=part.sounding_interval, part_name=row.name
    )
