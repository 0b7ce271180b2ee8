"""How are a lesson's files written, so that nothing is lost?

This is the one door for changes that the kit makes in a lesson folder: edit lists,
lesson.toml, notation. A file is read as a `Stored` record; writing says which record it is
written over.

* If the file has changed on disk since (another notebook, a text editor), writing is
  refused with a `ConflictError`, and the caller asks the teacher which of the two to keep.
* A file is replaced as a whole or not at all: the new content is written beside it and
  then moved over it.
* What it said before goes into the history (`kit.authoring.history`).

Only files of a lesson can be written: inside its folder, not hidden, of a known kind.
"""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from kit.authoring.history import HISTORY_FOLDER, Version, keep_version, versions
from kit.errors import ConflictError, LessonError
from kit.reading import read_bytes, text_of, told

__all__ = ["Stored", "read_stored", "restore", "versions", "write_stored"]

MAX_BYTES = 20_000_000
"""A lesson file is some kilobytes; this is room for a long score."""
SUFFIXES = (".toml", ".musicxml", ".xml", ".mxl", ".abc", ".mid", ".midi", ".ipynb", ".md")

_LOCK_WAIT_S = 3.0
_LOCK_STALE_S = 15.0
"""A writer needs milliseconds; a lock this old was left by one that died."""


@dataclass(frozen=True, slots=True)
class Stored:
    """A lesson file as it was read; `data` is None where there was no file.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    name : str
        The file, relative to it, with forward slashes.
    data : bytes or None
        What it said.
    """

    folder: Path
    name: str
    data: bytes | None

    @property
    def label(self) -> str:
        """How messages call the file: lesson folder first."""
        return f"{self.folder.name}/{self.name}"

    @property
    def text(self) -> str:
        """The content as text, empty where there was no file.

        Raises
        ------
        LessonError
            If it is not UTF-8.
        """
        with told(self.label):
            return text_of(self.data or b"")


def read_stored(folder: Path, name: str) -> Stored:
    """Read a lesson file, or note that there is none.

    Raises
    ------
    LessonError
        If the name is not that of a file the kit writes, or the file is far too large.
    """
    home = folder.resolve()
    path = _path(home, name)
    return Stored(home, name, _content(path, f"{home.name}/{name}"))


def write_stored(before: Stored, text: str | bytes, *, anyway: bool = False) -> Stored:
    """Replace a file, unless it has changed since it was read.

    Parameters
    ----------
    before : Stored
        What the new content was made from.
    text : str or bytes
        The new content; text is written as UTF-8, line ends as given.
    anyway : bool
        Write even if the file has changed; what it says now is kept in the history.

    Returns
    -------
    Stored
        The file as it is now, to be written over next time.

    Raises
    ------
    ConflictError
        If the file has changed on disk.
    LessonError
        If it cannot be written.
    """
    data = text.encode("utf-8") if isinstance(text, str) else text
    path = _path(before.folder, before.name)
    try:
        with _alone(before.folder):
            now = _content(path, before.label)
            if now not in (before.data, data) and not anyway:
                raise ConflictError(
                    "the file has changed on disk since it was read here"
                    if now is not None
                    else "the file has been taken away since it was read here",
                    file=before.label,
                    remedy="load what is there now, or keep yours; "
                    "the other one stays in the history",
                )
            if now == data:
                return Stored(before.folder, before.name, data)
            if now is not None:
                keep_version(before.folder, before.name, now)
            _replace(path, data)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise LessonError(
            f"the file cannot be written ({reason})",
            file=before.label,
            remedy="free it for writing",
        ) from error
    return Stored(before.folder, before.name, data)


def restore(version: Version, *, folder: Path) -> Stored:
    """Bring a kept version back; what the file says now is kept in its place.

    Raises
    ------
    LessonError
        If it cannot be written.
    """
    return write_stored(read_stored(folder, version.name), version.read(), anyway=True)


def _path(home: Path, name: str) -> Path:
    pure = PurePosixPath(name)
    usable = (
        name == pure.as_posix()
        and not pure.is_absolute()
        and pure.suffix.lower() in SUFFIXES
        and "\\" not in name
        and ":" not in name
        and "\x00" not in name
        and not any(part.startswith(".") for part in pure.parts)
    )
    path = (home / name).resolve() if usable else home
    if not usable or not path.is_relative_to(home):
        raise LessonError(
            f"{name!r} is not a file of the lesson",
            file=f"{home.name}/lesson.toml",
            remedy="use a plain name inside the lesson folder, such as levels/easy.toml",
        )
    return path


def _content(path: Path, label: str) -> bytes | None:
    with told(label):
        try:
            return read_bytes(path, limit_bytes=MAX_BYTES)
        except FileNotFoundError:
            return None


def _replace(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    handle, name = tempfile.mkstemp(prefix=".kit-", dir=path.parent)
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(mode)
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Let one writer at a time look at a lesson's files and replace them."""
    lock = folder / HISTORY_FOLDER / "writing"
    lock.parent.mkdir(exist_ok=True)
    until = time.monotonic() + _LOCK_WAIT_S
    while not _taken(lock):
        if _is_stale(lock):
            lock.unlink(missing_ok=True)
        elif time.monotonic() > until:
            raise LessonError(
                "another notebook is writing this lesson's files",
                file=folder.name,
                remedy="try again in a moment",
            )
        else:
            time.sleep(0.02)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _taken(lock: Path) -> bool:
    try:
        lock.touch(exist_ok=False)
    except FileExistsError:
        # Also when its owner has let go in the meantime: the next try will tell.
        return False
    except PermissionError:
        # Windows says so of a file that is about to go; anywhere else it is the folder.
        if not lock.exists():
            raise
        return False
    return True


def _is_stale(lock: Path) -> bool:
    try:
        return time.time() - lock.stat().st_mtime > _LOCK_STALE_S
    except FileNotFoundError:
        return False
