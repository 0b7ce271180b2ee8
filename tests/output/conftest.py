"""The lesson on which these rooms are tested."""

from fish_lesson import audio, folder, lesson, notebook

__all__ = ["audio", "folder", "lesson", "notebook"]
