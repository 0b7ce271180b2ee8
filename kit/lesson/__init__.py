"""A lesson folder as one object from which everything is computed."""

from kit.lesson.lesson import Lesson, open_lesson
from kit.lesson.level import Level
from kit.lesson.settings import LessonSettings, LevelSettings, Rights, Tiers

__all__ = [
    "Lesson",
    "LessonSettings",
    "Level",
    "LevelSettings",
    "Rights",
    "Tiers",
    "open_lesson",
]
