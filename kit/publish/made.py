"""How is what a job made kept, and found again by the next build?

The record under a job's key names that key and lists the files it made, each as the
manifest will describe it; the bytes lie beside it under their own SHA-256, which the
description holds anyway. Equal
files are thereby kept once, whoever made them.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from functools import partial
from pathlib import PurePosixPath
from typing import Any, Protocol

from kit.cache import Cache
from kit.errors import KitError
from kit.lesson.notebook import notebook_of
from kit.publish.manifest import BuiltFile
from kit.publish.recording.aids import AIDS
from kit.reading import json_of

__all__ = ["Entry", "keep", "kept_json", "recall"]

Entry = dict[str, Any]
"""A file as the manifest describes it."""

_KINDS: dict[str, tuple[type, ...]] = {
    "tempo_percent": (int,),
    "seconds": (int, float),
    "lufs": (int, float),
    "true_peak_dbtp": (int, float),
    "large_print": (bool,),
    "bytes": (int,),
}
"""What a part of a description is, if not a text."""
_PARTS = {field.name for field in fields(BuiltFile)} - {"data"} | {"sha256", "bytes"}
_MADE_BY: Mapping[str, frozenset[str]] = {
    "notebook": frozenset({"notebook"}),
    "audio": frozenset({"audio"}),
    "melody": frozenset({"audio", "stems"}),
    "stems": frozenset({"stems"}),
    "loops": frozenset({"loop"}),
    "timing": frozenset({"midi", "timing", "chapters", "captions"}),
    "recording": frozenset(AIDS),
    "sheets": frozenset({"part", "handout"}),
    "pack": frozenset({"pack"}),
    "page": frozenset({"page", "program"}),
    "video": frozenset({"video"}),
}
"""The kinds of files that each kind of job makes."""
_OF_ONE_FILE = ("notebook", "pack", "stems", "video")
_NEEDED = ("path", "kind", "tier", "sha256", "bytes")
_HASH = re.compile(r"[0-9a-f]{64}")


def keep(cache: Cache, key: str, files: Iterable[BuiltFile]) -> list[Entry]:
    """Store what a job made; the record last, so that it never promises too much."""
    entries = []
    for file in files:
        cache.keep(file.data)
        entries.append(file.entry())
    cache.put(key, json.dumps({"job": key, "files": entries}).encode())
    return entries


class Maker(Protocol):
    """A job, as far as what it made tells whose it is."""

    @property
    def kind(self) -> str:
        """What it makes."""

    @property
    def level(self) -> str:
        """Of which level, if of one."""


def recall(
    cache: Cache, key: str, job: Maker, *, reads: bool = False
) -> list[Entry] | None:
    """Give what is kept under a key, or None if any of it is missing or is not the job's.

    Parameters
    ----------
    cache : Cache
        Where it is kept.
    key : str
        The job's.
    job : Maker
        The job.
    reads : bool
        Whether every file is read, so that damaged ones are missing too. Without that they
        are noticed when they are needed.
    """
    entries = cache.parsed(key, partial(_entries_of, key))
    if entries is None or not _are_of(job, entries):
        return None
    if job.kind == "notebook" and not _is_notebook(cache, entries[0]["sha256"]):
        return None
    blobs = [entry["sha256"] for entry in entries]
    if reads:
        # All of them, not only up to the first that is damaged: reading takes those out.
        return entries if None not in [cache.blob(blob) for blob in blobs] else None
    return entries if all(map(cache.touch, blobs)) else None


def _entries_of(key: str, body: bytes) -> list[Entry]:
    """Read a record; whatever else lies there must not become a file of the output."""
    record = json_of(body)
    if not isinstance(record, dict) or record.get("job") != key:
        raise ValueError("this is no record of the job")
    entries = record.get("files")
    if not isinstance(entries, list) or not all(map(_is_entry, entries)):
        raise ValueError("this is no list of files")
    return entries


def _is_entry(entry: Any) -> bool:
    return (
        isinstance(entry, dict)
        and entry.keys() <= _PARTS
        and entry.keys() >= set(_NEEDED)
        and all(
            isinstance(value, _KINDS.get(name, (str,))) for name, value in entry.items()
        )
        and _HASH.fullmatch(entry["sha256"]) is not None
        and _stays_inside(entry["path"])
    )


def _are_of(job: Maker, entries: Sequence[Entry]) -> bool:
    """Say whether a job makes such files, of its own level."""
    return (
        all(entry["kind"] in _MADE_BY[job.kind] for entry in entries)
        and all(entry.get("level", job.level) == job.level for entry in entries)
        and (len(entries) == 1 or job.kind not in _OF_ONE_FILE)
    )


def _is_notebook(cache: Cache, blob: str) -> bool:
    body = cache.blob(blob)
    if body is None:
        return False
    try:
        notebook_of(body, source="")
    except KitError:
        return False
    return True


def _stays_inside(path: str) -> bool:
    r"""Say whether a path leads to a file below the folder it is put under.

    Examples
    --------
    >>> [_stays_inside(path) for path in ("audio/a.mp3", "../a", "/a", "c:/a", "a\\b", "")]
    [True, False, False, False, False, False]
    """
    parts = path.split("/")
    return (
        path.isprintable()
        and not {"", ".", ".."} & set(parts)
        and not set(path) & set("\\:")
        and PurePosixPath(path).as_posix() == path
    )


def kept_json(cache: Cache, blob: str) -> Any:
    """Read JSON that a job of this build has made."""
    return json_of(cache.need(blob))
