"""The lesson on which these rooms are tested."""

from fish_lesson import folder, lesson, notebook

__all__ = ["folder", "lesson", "notebook"]
