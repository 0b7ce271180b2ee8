"""Are a lesson's files still what they were when its build began?

What is kept in the cache lies under a key made from the files at the beginning. If a
teacher saves one of them while the build runs, what is made from it must not be kept under
that key, or it would come back when the change is undone.

Only the files that the kit itself reads are watched: a notebook may write others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from unicodedata import normalize

from kit.build.identity import file_hash
from kit.errors import LessonError
from kit.lesson.lesson import Lesson

__all__ = ["Sources", "require_unchanged", "sources"]

Sources = tuple[tuple[str, str], ...]
"""Names below the lesson folder, with hashes."""


def sources(lesson: Lesson, hashes: Mapping[str, str]) -> Sources:
    """Choose the files that the kit reads of all files of a lesson.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    hashes : mapping of str to str
        `kit.build.identity.lesson_hashes`, taken before the lesson was opened.

    Raises
    ------
    LessonError
        If lesson.toml names a file that is not there.
    """
    found = {}
    for name in _names(lesson):
        path = lesson.file(name).relative_to(lesson.folder).as_posix()
        mark = hashes.get(normalize("NFC", path))
        if mark is not None:
            found[path] = mark
    return tuple(found.items())


def _names(lesson: Lesson) -> Iterator[str]:
    settings = lesson.settings
    yield from ("lesson.toml", "lesson.ipynb", settings.tune)
    for level in settings.levels:
        yield from filter(None, (level.edits, level.notation, level.solo))
    # A SoundFont is too large to be read for every piece; its audio is kept by its content.
    yield from filter(None, (settings.audio.cover,))


def require_unchanged(folder: Path, sources: Sources) -> None:
    """Make sure that the files are what they were.

    Raises
    ------
    LessonError
        If one of them is not.
    """
    for name, mark in sources:
        path = folder / name
        if not path.is_file() or file_hash(path) != mark:
            raise LessonError(
                "the file was changed while the lesson was being built",
                file=f"{folder.name}/{name}",
                remedy="build again",
            )
