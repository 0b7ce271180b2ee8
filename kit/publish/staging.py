"""How does an output folder come into being, whole or not at all?

Everything is written into a folder beside the last output, which then changes places with
it. Whatever goes wrong before leaves the last output as it was.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from kit.cache import Cache
from kit.publish.bundles import bundled, write_bundle
from kit.publish.made import Entry

__all__ = ["add_bundles", "add_files", "add_manifest", "staged"]

_PUBLIC = {"public/index.html": "index.html"}
"""What the public page is called in the free bundle; members get the other one."""


@contextmanager
def staged(out: Path) -> Iterator[Path]:
    """Give a folder to fill; it takes the place of `out` when the block ends well."""
    out.parent.mkdir(parents=True, exist_ok=True)
    stage = Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))
    try:
        yield stage
        stage.chmod(0o755)
        _swap(stage, out)
    finally:
        shutil.rmtree(stage, ignore_errors=True)


def add_files(stage: Path, entries: Sequence[Entry], shelf: Cache) -> None:
    """Write files from the cache.

    Raises
    ------
    CacheLossError
        If one of them is not there any more.
    """
    for entry in entries:
        path = stage / entry["path"]
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(shelf.need(entry["sha256"]))


def add_bundles(stage: Path, entries: Sequence[Entry]) -> list[Entry]:
    """Pack what each tier gets, and describe the bundles."""
    offered = bundled(entries)
    contents = {
        "free": {
            _PUBLIC.get(entry["path"], entry["path"]): stage / entry["path"]
            for entry in offered
            if entry["tier"] == "free"
        },
        "members": {
            entry["path"]: stage / entry["path"]
            for entry in offered
            if entry["path"] not in _PUBLIC
        },
    }
    return [_bundle(stage, tier, files) for tier, files in contents.items()]


def _bundle(stage: Path, tier: str, files: Mapping[str, Path]) -> Entry:
    path = stage / f"{tier}.zip"
    write_bundle(path, files)
    with path.open("rb") as archive:
        digest = hashlib.file_digest(archive, "sha256").hexdigest()
    return {
        "path": path.name,
        "kind": "bundle",
        "tier": tier,
        "sha256": digest,
        "bytes": path.stat().st_size,
    }


def add_manifest(stage: Path, description: Mapping[str, Any]) -> None:
    """Write the manifest."""
    text = json.dumps(description, indent=1, ensure_ascii=False) + "\n"
    (stage / "manifest.json").write_text(text, encoding="utf-8")


def _swap(stage: Path, out: Path) -> None:
    if not out.exists():
        stage.replace(out)
        return
    old = stage.with_name(f"{stage.name}.old")
    out.replace(old)
    try:
        stage.replace(out)
    except BaseException:  # Ctrl-C between the two renames included
        old.replace(out)
        raise
    shutil.rmtree(old, ignore_errors=True)
