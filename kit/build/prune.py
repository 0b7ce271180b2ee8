"""How are the outputs of withdrawn lessons removed, and nothing else with them?

A folder goes only if each file in it is one that the kit wrote: listed in the manifest with
the SHA-256 that it still has. It is renamed out of the way first and then emptied file by
file from that list; so what somebody puts there meanwhile is never deleted, and a folder
half removed never stands under the lesson's name.
"""

from __future__ import annotations

import hashlib
import os
import re
import uuid
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from kit.errors import LessonError
from kit.output.origins import RECORDS, Standing, standings
from kit.output.place import below
from kit.output.written import MANIFEST, WrittenFile, listed_files, read_manifest
from kit.publish.catalogue.withdrawn import kept_sentences, output_names

__all__ = ["Prunable", "remove_output", "to_prune"]

_LEFT_BY_SYSTEMS = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What the file windows of macOS and Windows leave in a folder that is looked at."""
_MOST_NAMES = 3
_ASIDE = ".pruned-"
_ASIDE_NAME = re.compile(re.escape(_ASIDE) + "[0-9a-f]{8}")


@dataclass(frozen=True, slots=True)
class Prunable:
    """What may go, and what stays.

    Parameters
    ----------
    outputs : tuple of Path
        Folders of withdrawn lessons that hold nothing but what the kit wrote.
    refused : tuple of LessonError
        Why others of withdrawn lessons stay.
    notes : tuple of str
        Sentences on lessons that cannot be seen just now.
    """

    outputs: tuple[Path, ...]
    refused: tuple[LessonError, ...]
    notes: tuple[str, ...]


def to_prune(out_root: Path, lessons: Path | None = None) -> Prunable:
    """Find the outputs of withdrawn lessons.

    Parameters
    ----------
    out_root : Path
        Where ``kit build`` puts its folders.
    lessons : Path, optional
        Only outputs of lessons that were in this folder; it counts as all there, even if it
        holds no lesson any more.
    """
    found = standings(out_root, output_names(out_root), whole=lessons)
    if lessons is not None:
        found = tuple(standing for standing in found if _was_in(standing, lessons))
    outputs, refused = [], []
    for standing in found:
        if standing.kind == "withdrawn":
            folder = out_root / standing.slug
            try:
                _require_own(folder, folder.name)
            except LessonError as error:
                refused.append(error)
            else:
                outputs.append(folder)
    notes = tuple(kept_sentences(out_root, found))
    return Prunable(tuple(outputs), tuple(refused), notes)


def _was_in(standing: Standing, lessons: Path) -> bool:
    origin = standing.origin
    return origin is not None and origin.folder.parent == lessons.resolve()


def remove_output(folder: Path) -> None:
    """Remove an output folder and what is kept of how it was made.

    Raises
    ------
    LessonError
        If it holds something that the kit did not write; it then stays as it is.
    OSError
        If it cannot be removed.
    """
    _finish_removals(folder.parent)
    _require_own(folder, folder.name)
    aside = folder.with_name(f"{_ASIDE}{uuid.uuid4().hex[:8]}")
    folder.replace(aside)
    _remove(aside, folder.name)
    if aside.exists():
        # Somebody put a file there just now: it goes back to where they put it.
        aside.replace(folder)
        raise _foreign(folder, sorted(path.name for path in below(folder, strict=True)))
    _forget(folder)


def _remove(aside: Path, slug: str) -> None:
    """Remove what the kit wrote, the manifest last: it says what that is."""
    listed = _listed(aside, slug)
    files = [path for path in below(aside, strict=True) if _may_go(path, aside, listed)]
    for path in sorted(files, key=lambda path: path == aside / MANIFEST):
        path.unlink(missing_ok=True)
    _remove_empty(aside)


def _remove_empty(folder: Path) -> None:
    for place, _folders, _files in os.walk(folder, topdown=False):
        with suppress(OSError):  # not empty: whoever asks sees that it is still there
            Path(place).rmdir()


def _finish_removals(root: Path) -> None:
    """Go on where a removal was killed: what is left is still what its manifest lists."""
    for aside in root.glob(f"{_ASIDE}*"):
        if not _ASIDE_NAME.fullmatch(aside.name):
            continue
        manifest = read_manifest(aside / MANIFEST)
        if manifest:
            _remove(aside, manifest["lesson"])
        _remove_empty(aside)


def _require_own(folder: Path, slug: str) -> None:
    """Make sure that all files of an output folder are what the kit wrote.

    Raises
    ------
    LessonError
        If it is a link, or holds a file that its manifest does not list as it is.
    """
    if folder.is_symlink():
        raise LessonError(
            f"this is a link to {folder.readlink()}, so it stays",
            file=str(folder),
            remedy="remove it and what it leads to yourself",
        )
    listed = _listed(folder, slug)
    foreign = [
        path.relative_to(folder).as_posix()
        for path in below(folder, strict=True)
        if not _may_go(path, folder, listed)
    ]
    if foreign:
        raise _foreign(folder, foreign)


def _foreign(folder: Path, names: list[str]) -> LessonError:
    more = len(names) - _MOST_NAMES
    shown = ", ".join(name[:60] for name in names[:_MOST_NAMES])
    others = f" and {more} more" if more > 0 else ""
    return LessonError(
        f"the kit did not write {shown}{others}, or somebody has changed it, so the "
        "folder stays",
        file=str(folder),
        remedy="move what you want to keep elsewhere, and remove the folder yourself",
    )


def _listed(folder: Path, slug: str) -> dict[str, WrittenFile]:
    """Read what the manifest lists.

    Raises
    ------
    LessonError
        If there is no manifest that the kit wrote for the lesson.
    """
    path = folder / MANIFEST
    manifest = {} if path.is_symlink() else read_manifest(path)
    if manifest.get("lesson") != slug:
        raise LessonError(
            "the kit did not write this manifest, or somebody has changed it, so the "
            "folder stays",
            file=str(path),
            remedy="remove the folder yourself if nothing in it is needed",
        )
    return listed_files(manifest)


def _may_go(path: Path, folder: Path, listed: dict[str, WrittenFile]) -> bool:
    name = path.relative_to(folder).as_posix()
    if name == MANIFEST or path.name in _LEFT_BY_SYSTEMS:
        return True
    if name not in listed or path.is_symlink() or not path.is_file():
        return False
    with path.open("rb") as data:
        return hashlib.file_digest(data, "sha256").hexdigest() == listed[name].sha256


def _forget(folder: Path) -> None:
    """Remove what was kept beside an output of how it was made."""
    records = folder.parent / RECORDS
    own = re.compile(rf"{re.escape(folder.name)}\.[a-z]+")
    for path in records.iterdir() if records.is_dir() else ():
        if own.fullmatch(path.name):
            path.unlink(missing_ok=True)
