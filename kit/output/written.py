"""What in an output folder did the kit write, and what is the teacher's?

A folder is the kit's if it holds a manifest that the kit wrote. In it, what the manifest
lists as it lies there is the kit's; every other file is *foreign* and is kept, and a listed
file that somebody has changed since is *changed* and is kept aside before it is replaced.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from kit.errors import LessonError
from kit.output.place import OutputPlace, below
from kit.reading import read_json

__all__ = [
    "MANIFEST",
    "MAX_MANIFEST_BYTES",
    "WrittenFile",
    "WrittenFolder",
    "holds_anything",
    "is_manifest",
    "listed_files",
    "read_manifest",
    "require_replaceable",
    "written_folder",
]

MANIFEST = "manifest.json"
MAX_MANIFEST_BYTES = 10_000_000
"""That of a lesson with 24 instruments and all mixes has a tenth of this."""


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """A file as the manifest lists it: SHA-256 (hexadecimal) and size in bytes."""

    sha256: str
    size: int


@dataclass(frozen=True, slots=True)
class WrittenFolder:
    """An output folder, told apart.

    Parameters
    ----------
    manifest : mapping
        As the kit wrote it; empty where the folder is not the kit's.
    listed : mapping of str to WrittenFile
        What the manifest lists, by path below the folder.
    foreign : tuple of str
        Paths of what it does not list, links included.
    changed : tuple of str
        Paths of listed files that are there with other content.
    """

    manifest: Mapping[str, Any]
    listed: Mapping[str, WrittenFile] = field(default_factory=dict)
    foreign: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()


def is_manifest(data: Any) -> bool:
    """Say whether parsed JSON is a manifest of this or an earlier version of the kit."""
    return (
        isinstance(data, dict)
        and isinstance(data.get("lesson"), str)
        and isinstance(data.get("built_from"), str)
        and isinstance(data.get("kit_version"), str)
        and isinstance(data.get("files"), list)
        and all(_is_entry(entry) for entry in data["files"])
    )


def _is_entry(entry: Any) -> bool:
    return (
        isinstance(entry, dict)
        and isinstance(entry.get("path"), str)
        and isinstance(entry.get("sha256"), str)
        and isinstance(entry.get("bytes"), int)
    )


def read_manifest(path: Path) -> dict[str, Any]:
    """Read a manifest; give nothing where there is none that the kit wrote.

    Whoever reads it decides what that means: an output is made anew, or left alone.
    """
    try:
        data = read_json(path, limit_bytes=MAX_MANIFEST_BYTES)
    except (OSError, ValueError):
        return {}
    return data if is_manifest(data) else {}


def listed_files(manifest: Mapping[str, Any]) -> dict[str, WrittenFile]:
    """Give what a manifest lists, by path below its folder."""
    return {
        entry["path"]: WrittenFile(entry["sha256"], entry["bytes"])
        for entry in manifest.get("files", ())
    }


def written_folder(folder: Path, record: Mapping[str, Any] | None = None) -> WrittenFolder:
    """Tell apart what lies in an output folder.

    Parameters
    ----------
    folder : Path
        The output folder, which is there.
    record : mapping, optional
        The kit's own copy of the manifest (`kit.build.earlier`), for a folder whose
        manifest has been damaged.
    """
    path = folder / MANIFEST
    manifest = read_manifest(path)
    damaged = not manifest and path.is_file() and bool(record)
    if damaged:
        manifest = dict(record or {})
    listed = listed_files(manifest)
    foreign, changed = [], []
    for file in below(folder):
        name = file.relative_to(folder).as_posix()
        if name == MANIFEST and manifest:
            continue
        if name not in listed or file.is_symlink() or not file.is_file():
            foreign.append(name)
        elif _is_changed(file, listed[name], path):
            changed.append(name)
    return WrittenFolder(manifest, listed, tuple(sorted(foreign)), tuple(sorted(changed)))


def _is_changed(file: Path, listed: WrittenFile, manifest: Path) -> bool:
    """Compare a file with its entry; only one not older than the manifest is read.

    The manifest is written last, so what is older cannot have been edited since.
    """
    stat = file.stat()
    if stat.st_size != listed.size:
        return True
    if stat.st_mtime_ns < manifest.stat().st_mtime_ns:
        return False
    with file.open("rb") as data:
        return hashlib.file_digest(data, "sha256").hexdigest() != listed.sha256


def holds_anything(folder: Path) -> bool:
    """Say whether a folder holds a file or a link, however deep."""
    return next(below(folder), None) is not None


def require_replaceable(
    place: OutputPlace, record: Mapping[str, Any] | None = None
) -> None:
    """Make sure that an output folder may be replaced: there is none, or it is the kit's.

    Raises
    ------
    LessonError
        If something else is there. Nothing has been touched then.
    """
    out = place.out
    if not out.exists() and not out.is_symlink():
        return
    if not out.is_dir():
        raise LessonError(
            f"{out} is a file, and the lesson's output needs that name",
            file=place.slug,
            remedy="move it away, or build to another folder with --out",
        )
    if holds_anything(out) and not written_folder(out, record).manifest:
        raise LessonError(
            f"{out} holds no manifest.json that the kit wrote, so it is not replaced",
            file=place.slug,
            remedy="move that folder away, or build to another folder with --out",
        )
