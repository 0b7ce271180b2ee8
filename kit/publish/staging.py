"""How does an output folder come into being, whole or not at all?

Everything is written into a folder beside the last output, which then changes places with
it. Whatever goes wrong before leaves the last output as it was.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from kit.cache import Cache, named
from kit.publish.bundles import bundled, write_bundle
from kit.publish.made import Entry

__all__ = ["add_bundles", "add_files", "add_manifest", "bring_back", "staged"]

_PUBLIC = {"public/index.html": "index.html"}
"""What the public page is called in the free bundle; members get the other one."""
_WRITERS = 2
FORGOTTEN_S = 1800
"""No build works for so long without writing into its stage."""


@contextmanager
def staged(out: Path) -> Iterator[Path]:
    """Give a folder to fill; it takes the place of `out` when the block ends well."""
    out.parent.mkdir(parents=True, exist_ok=True)
    _clear_forgotten(out)
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

    def add(entry: Entry) -> None:
        path = stage / entry["path"]
        path.parent.mkdir(parents=True, exist_ok=True)
        data = shelf.need(entry["sha256"])
        with named(path):
            path.write_bytes(data)

    with ThreadPoolExecutor(_WRITERS) as writers:
        # A list, so that an error of any of them is raised here.
        list(writers.map(add, entries))


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
    with named(stage):
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
    path = stage / "manifest.json"
    with named(path):
        path.write_text(text, encoding="utf-8")


def bring_back(out: Path) -> None:
    """Put an output folder back that a build, killed between two renames, took aside."""
    if not out.exists():
        aside = [path for path in _left_beside(out) if path.suffix == ".old"]
        whole = [path for path in aside if (path / "manifest.json").is_file()]
        if whole:
            whole[-1].replace(out)


def _clear_forgotten(out: Path) -> None:
    """Remove stages that nothing was written into for long: their builds were killed."""
    forgotten = time.time() - FORGOTTEN_S
    for path in _left_beside(out):
        with suppress(FileNotFoundError):  # the build it belongs to has just finished
            if path.stat().st_mtime < forgotten:
                shutil.rmtree(path, ignore_errors=True)


def _left_beside(out: Path) -> list[Path]:
    if not out.parent.is_dir():
        return []
    pattern = re.compile(rf"\.{re.escape(out.name)}\.\w{{8}}(\.old)?")
    return [path for path in out.parent.iterdir() if pattern.fullmatch(path.name)]


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
