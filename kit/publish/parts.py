"""A level's sheet for one instrument as MusicXML at written pitch, as engraved."""

from __future__ import annotations

from dataclasses import replace

from kit.accompany.proposal import PROPOSED
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
    row, tune = part.instrument, part.tune
    if lesson.changes_are_proposed(level):
        # Whoever opens the file elsewhere finds it with the credits.
        tune = replace(tune, rights=" ".join(filter(None, (tune.rights, PROPOSED))))
    return write_musicxml(
        tune, clef=row.clef, transpose=part.sounding_interval, part_name=row.name
    )
