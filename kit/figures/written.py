"""Whose notes are shown: which written key does a figure use, and what is it called?

Every figure that names notes uses the part of one level and instrument; without an
instrument it stays at concert pitch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from kit.check.players import name_in_text
from kit.form.sections import Form
from kit.lesson.choices import level_or_first
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.tune.model import Tune
from kit.tune.pitch import Key

__all__ = ["Written", "length_words", "tempo_words", "written"]


@dataclass(frozen=True, slots=True)
class Written:
    """A level's music as one player reads it."""

    level: Level
    sheet: Tune
    player: str
    """The instrument's name in running text, such as ``alto saxophone``."""

    @property
    def played(self) -> Tune:
        """The head once through, repeats written out."""
        bars = tuple(self.sheet.bars[index] for index in self.level.order)
        return replace(self.sheet, bars=bars)

    @property
    def form(self) -> Form:
        """The sections of `played`."""
        return self.level.form

    @property
    def caption(self) -> str:
        """Level, instrument and key: ``Beginner, alto saxophone, in A minor``."""
        return f"{self.level.settings.title}, {self.player}, in {self.sheet.key}"


def written(
    lesson: Lesson,
    *,
    level: str | None,
    instrument: str | None,
    concert_key: Key | None = None,
) -> Written:
    """Give a level at the written pitch of an instrument, or at concert pitch.

    `concert_key` is another key to play in; it needs an instrument.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    """
    name = level_or_first(lesson, level)
    found = lesson.level(name)
    if instrument is None:
        return Written(found, found.sheet, "concert pitch")
    part = lesson.part(name, instrument, concert_key=concert_key)
    return Written(found, part.tune, name_in_text(part.instrument.name))


def tempo_words(level: Level) -> str:
    """Say the tempo in felt beats: ``120 beats a minute``."""
    return f"{level.settings.tempo:g} beats a minute"


def length_words(seconds: float) -> str:
    """Say a length as minutes and seconds: ``2:16``."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02}"
