"""A shelf of computed bytes, found again by what they were computed from.

An entry's name is the SHA-256 of everything that went into it, so an entry is never wrong,
only missing. Writers put a finished file in place by one rename: a crash leaves nothing
half written, and two writers of one entry write the same bytes.

The shelf stands in the user's cache folder, or where the environment variable ``KIT_CACHE``
points. Deleting it costs time, never work.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Callable, Iterable
from functools import lru_cache
from pathlib import Path
from typing import Any

import platformdirs

__all__ = ["Cache", "code_fingerprint", "default_cache", "files_fingerprint", "fingerprint"]

DEFAULT_LIMIT_BYTES = 2_000_000_000


def default_cache() -> Cache:
    """Give the shelf of this user."""
    place = os.environ.get("KIT_CACHE") or platformdirs.user_cache_dir("tune-lesson-kit")
    return Cache(Path(place))


def fingerprint(*parts: Any) -> str:
    """Hash things that JSON can write, or that print as what they are (frozen records).

    Returns
    -------
    str
        64 hexadecimal digits, the same for equal parts on every machine.
    """
    text = json.dumps(parts, sort_keys=True, default=_plain, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    return repr(value)


def files_fingerprint(root: Path, files: Iterable[Path]) -> str:
    """Hash names (below `root`) and contents of files, in the order given."""
    digest = hashlib.sha256()
    for path in files:
        content = hashlib.sha256(path.read_bytes()).digest()
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + content)
    return digest.hexdigest()


@lru_cache
def code_fingerprint(*rooms: str) -> str:
    """Hash the code, templates and tables of some rooms of the kit (all of it if none).

    What a changed room has made before is thereby not found again.
    """
    package = Path(__file__).parent
    roots = [package / room for room in rooms] or [package]
    files = sorted(
        path
        for root in roots
        for path in root.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    )
    return files_fingerprint(package, files)


class Cache:
    """A folder of entries.

    Parameters
    ----------
    folder : Path
        Made when the first entry is put in.
    limit_bytes : int
        `trim` takes out the entries used longest ago above this size.
    """

    def __init__(self, folder: Path, *, limit_bytes: int = DEFAULT_LIMIT_BYTES) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes

    def get(self, key: str) -> bytes | None:
        """Give an entry's bytes, or None."""
        path = self._path(key)
        try:
            data = path.read_bytes()
        except FileNotFoundError:
            return None
        digest, _, body = data.partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode() != digest:
            # A damaged disk or an interrupted copy: forget it and compute it again.
            path.unlink(missing_ok=True)
            return None
        os.utime(path)
        return body

    def put(self, key: str, body: bytes) -> None:
        """Store an entry; an entry of that name is replaced as a whole."""
        path = self._path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        digest = hashlib.sha256(body).hexdigest().encode()
        with tempfile.NamedTemporaryFile(dir=path.parent, delete=False) as file:
            file.write(digest + b"\n" + body)
        Path(file.name).replace(path)

    def through(self, key: str, compute: Callable[[], bytes]) -> bytes:
        """Give an entry, computing and storing it first if it is missing."""
        body = self.get(key)
        if body is None:
            body = compute()
            self.put(key, body)
        return body

    def trim(self) -> int:
        """Take out the entries used longest ago until the limit is kept; count them."""
        entries = sorted(
            ((path.stat().st_mtime, path.stat().st_size, path) for path in self._entries()),
            reverse=True,
        )
        total = removed = 0
        for _, size, path in entries:
            total += size
            if total > self.limit_bytes:
                path.unlink(missing_ok=True)
                removed += 1
        return removed

    def _entries(self) -> list[Path]:
        return [path for path in self.folder.glob("??/*") if path.is_file()]

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key
