"""How is what a job made kept, and found again by the next build?

The record under a job's key lists the files it made, each as the manifest will describe it;
the bytes lie beside it under their own SHA-256, which the description holds anyway. Equal
files are thereby kept once, whoever made them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from kit.cache import Cache
from kit.publish.manifest import BuiltFile

__all__ = ["Entry", "keep", "kept_json", "recall"]

Entry = dict[str, Any]
"""A file as the manifest describes it."""


def keep(shelf: Cache, key: str, files: Iterable[BuiltFile]) -> list[Entry]:
    """Store what a job made; the record last, so that it never promises too much."""
    entries = []
    for file in files:
        shelf.keep(file.data)
        entries.append(file.entry())
    shelf.put(key, json.dumps(entries).encode())
    return entries


def recall(shelf: Cache, key: str, *, reads: bool = False) -> list[Entry] | None:
    """Give what is kept under a key, or None if any of it is missing.

    Parameters
    ----------
    shelf : Cache
        Where it is kept.
    key : str
        The job's.
    reads : bool
        Whether every file is read, so that damaged ones are missing too. Without that they
        are noticed when they are needed.
    """
    record = shelf.get(key)
    if record is None:
        return None
    entries: list[Entry] = json.loads(record)
    blobs = [entry["sha256"] for entry in entries]
    if reads:
        # All of them, not only up to the first that is damaged: reading takes those out.
        return entries if None not in [shelf.get(blob) for blob in blobs] else None
    return entries if all(map(shelf.touch, blobs)) else None


def kept_json(shelf: Cache, blob: str) -> Any:
    """Read JSON that a job of this build has made."""
    return json.loads(shelf.need(blob))
