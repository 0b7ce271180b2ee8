"""Which lesson folder was an output built from, and is it still there?

Beside the recipes, ``<out>/.recipes/<lesson>.origin`` says where the lesson's folder was:
relative to the out folder, so that a school can move, and on which computer. That tells
this school from another one that happens to have the same layout: an out folder that two
computers share holds the lessons of both, and neither may take the other's for withdrawn.
Nothing of it goes into what is published.

A lesson is *withdrawn* only if everything speaks for it: its output was built here, the
folder that held the lesson is there and still holds lessons, and the lesson is not in it.
Built here means on this computer, or on another one whose lessons are seen from here as
well, most of them at least, because both use one disk or this is a copy.
"""

from __future__ import annotations

import hashlib
import json
import os
import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from kit.output.place import resolved
from kit.reading import read_json

__all__ = [
    "RECORDS",
    "Origin",
    "Standing",
    "note_origin",
    "origin_of",
    "standings",
    "this_machine",
]

RECORDS = ".recipes"
"""The folder beside the outputs that is the teacher's own and never published."""
LESSON_FILE = "lesson.toml"
Kind = Literal["there", "withdrawn", "out-of-reach", "emptied", "unfinished", "unknown"]


@dataclass(frozen=True, slots=True)
class Origin:
    """Where an output was built from.

    Parameters
    ----------
    folder : Path
        The lesson folder, absolute.
    machine : str
        The computer, as `this_machine` names it.
    """

    folder: Path
    machine: str


@dataclass(frozen=True, slots=True)
class Standing:
    """How a lesson's output stands to its source.

    Parameters
    ----------
    slug : str
        The lesson's name.
    kind : str
        *there*; *withdrawn*; *out-of-reach*: the folder that held the lessons is gone or
        cannot be read; *emptied*: that folder holds no lesson at all any more, as where a
        drive is missing; *unfinished*: the lesson's folder has files and no lesson.toml;
        *unknown*: built somewhere else, or by a kit that kept no record.
    origin : Origin or None
        Where it was built from, if that is known.
    """

    slug: str
    kind: Kind
    origin: Origin | None = None


def note_origin(root: Path, slug: str, folder: Path) -> None:
    """Write down where an output's lesson is, unless that is known already.

    Parameters
    ----------
    root : Path
        The out folder.
    slug : str
        The lesson's name.
    folder : Path
        Its folder.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    root, folder = resolved(root), folder.resolve()
    known = origin_of(root, slug)
    if known is not None and known.folder == folder:
        return
    try:
        place = Path(os.path.relpath(folder, root)).as_posix()
    except ValueError:
        # Another drive of Windows: no path leads there from here.
        place = str(folder)
    record = {"folder": place, "machine": this_machine()}
    path = _record(root, slug)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{uuid.uuid4().hex}.part")
    try:
        part.write_text(json.dumps(record) + "\n", encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def origin_of(root: Path, slug: str) -> Origin | None:
    """Read where an output was built from; None if nobody wrote it down.

    Parameters
    ----------
    root : Path
        The out folder.
    slug : str
        The lesson's short name.
    """
    root = resolved(root)
    try:
        data = read_json(_record(root, slug))
        folder, machine = data["folder"], data["machine"]
        place = os.path.normpath(root / folder)
        if not isinstance(machine, str) or "\0" in place:
            return None
    except (OSError, ValueError, KeyError, TypeError):
        # None, or damaged: then the origin is not known, and the output stays.
        return None
    return Origin(Path(place), machine)


def standings(
    root: Path, slugs: Iterable[str], *, whole: Path | None = None
) -> tuple[Standing, ...]:
    """Say of each output how it stands to its source.

    Parameters
    ----------
    root : Path
        The out folder.
    slugs : iterable of str
        The outputs' names.
    whole : Path, optional
        A folder of lessons of which the teacher says that it is all there, even if it holds
        none any more.
    """
    origins = {slug: origin_of(root, slug) for slug in slugs}
    looked = {slug: _look(origin) for slug, origin in origins.items() if origin is not None}
    groups: dict[tuple[Path, str], list[str]] = defaultdict(list)
    for slug, origin in origins.items():
        if origin is not None:
            groups[origin.folder.parent, origin.machine].append(slug)
    found = {slug: Standing(slug, "unknown") for slug in origins}
    for (parent, machine), members in groups.items():
        there = sum(looked[slug] == "there" for slug in members)
        is_here = machine == this_machine() or 2 * there > len(members)
        # Where a drive was, an empty folder may be left. But one that had a single lesson
        # has none without it.
        is_whole = len(members) == 1 or (whole is not None and parent == whole.resolve())
        holds_lessons = _holds_lessons(parent)
        for slug in members:
            kind: Kind = looked[slug]
            if kind != "there" and not is_here:
                kind = "unknown"
            elif kind != "there" and holds_lessons is None:
                kind = "out-of-reach"
            elif kind == "withdrawn" and not holds_lessons and not is_whole:
                kind = "emptied"
            found[slug] = Standing(slug, kind, origins[slug])
    return tuple(found.values())


def _look(origin: Origin) -> Kind:
    """Say what a lesson's folder by itself looks like."""
    try:
        if _is_lesson(origin.folder):
            return "there"
        return "unfinished" if _has_files(origin.folder) else "withdrawn"
    except OSError:
        # Not allowed, a link that leads nowhere, a drive that fails: nobody can tell.
        return "out-of-reach"


def _is_lesson(folder: Path) -> bool:
    try:
        (folder / LESSON_FILE).lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def _has_files(folder: Path) -> bool:
    """Say whether a folder has files that a program would not leave behind by itself."""
    try:
        folder.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    if not folder.is_dir():
        raise FileNotFoundError(folder)  # a link to what is not there now
    left = {path.name for path in folder.iterdir()} - {"__pycache__"}
    return any(not name.startswith(".") for name in left)


def _holds_lessons(parent: Path) -> bool | None:
    """Say whether a folder holds lessons; None if it is gone or cannot be read."""
    try:
        folders = list(parent.iterdir())
    except OSError:
        return None
    return any(map(_is_readable_lesson, folders))


def _is_readable_lesson(folder: Path) -> bool:
    try:
        return _is_lesson(folder)
    except OSError:
        # A folder of the system's, such as lost+found: it tells nothing of the others.
        return False


def _record(root: Path, slug: str) -> Path:
    return root / RECORDS / f"{slug}.origin"


@cache
def this_machine() -> str:
    """Name this computer, the same for all its users, without saying anything of it."""
    number = f"tune-lesson-kit {uuid.getnode()}"
    return hashlib.sha256(number.encode()).hexdigest()[:16]
