"""A lesson folder as one object from which everything is computed."""

from kit.lesson.lesson import Lesson, open_lesson
from kit.lesson.level import Level
from kit.lesson.publish_tables import CatalogueSettings, RecordingSettings
from kit.lesson.settings import LessonSettings, LevelSettings, Tiers

__all__ = [
    "CatalogueSettings",
    "Lesson",
    "LessonSettings",
    "Level",
    "LevelSettings",
    "RecordingSettings",
    "Tiers",
    "open_lesson",
]
