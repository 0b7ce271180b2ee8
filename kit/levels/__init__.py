"""Levels as edits on one another: applied, compared in words, measured and suggested."""

from kit.levels.compare import Difference, compare
from kit.levels.difficulty import (
    BarDifficulty,
    Difficulty,
    PartScore,
    difficulty,
    difficulty_by_bar,
)
from kit.levels.draft import draft_edits
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit, apply_edits, apply_edits_reporting
from kit.levels.file import LevelFile, read_level_file, write_level_file
from kit.levels.suggest import TASTES, Suggestion, suggestions

__all__ = [
    "OPERATIONS",
    "TASTES",
    "BarDifficulty",
    "Difference",
    "Difficulty",
    "Edit",
    "LevelFile",
    "PartScore",
    "Suggestion",
    "apply_edit",
    "apply_edits",
    "apply_edits_reporting",
    "compare",
    "difficulty",
    "difficulty_by_bar",
    "draft_edits",
    "read_level_file",
    "suggestions",
    "write_level_file",
]
