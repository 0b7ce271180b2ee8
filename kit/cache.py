"""A shelf of computed bytes, found again by what they were computed from.

An entry's name is the SHA-256 of everything that went into it, so an entry is never wrong,
only missing. Writers put a finished file in place by one rename: a crash leaves nothing
half written, and two writers of one entry write the same bytes.

Putting entries in takes room; `Cache.trim` takes out what was used longest ago, and never
what was used within the last half hour, because another build may be counting on it.

The shelf stands in the user's cache folder, or where the environment variable ``KIT_CACHE``
points, and keeps to 10 GB or what ``KIT_CACHE_GB`` says. Deleting it costs time, never
work.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

import platformdirs

from kit.errors import SetupError

__all__ = [
    "Cache",
    "CacheLossError",
    "code_fingerprint",
    "default_cache",
    "files_fingerprint",
    "fingerprint",
    "named",
]

_UNFINISHED = "unfinished-"
_DIGEST_LINE = 65
"""Bytes of the first line of an entry: the hash of the rest, and the end of the line."""
DEFAULT_LIMIT_BYTES = 10_000_000_000
IN_USE_S = 1800
"""What was used within this time is not trimmed, and no build takes so long to write."""


class CacheLossError(SetupError):
    """An entry that was there a moment ago is gone or damaged."""


def default_cache() -> Cache:
    """Give the shelf of this user.

    Raises
    ------
    SetupError
        If ``KIT_CACHE_GB`` is not a number.
    """
    place = os.environ.get("KIT_CACHE") or platformdirs.user_cache_dir("tune-lesson-kit")
    limit = os.environ.get("KIT_CACHE_GB")
    # Absolute, because a notebook that is run with it stands in its lesson's folder.
    folder = Path(place).absolute()
    if not limit:
        return Cache(folder)
    try:
        return Cache(folder, limit_bytes=int(float(limit) * 1e9))
    except ValueError as error:
        raise SetupError(
            f'KIT_CACHE_GB is "{limit}"', remedy="give it a number of gigabytes"
        ) from error


def fingerprint(*parts: Any) -> str:
    """Hash things that JSON can write, or that print as what they are (frozen records).

    Returns
    -------
    str
        64 hexadecimal digits, the same for equal parts on every machine.
    """
    text = json.dumps(parts, sort_keys=True, default=_plain, ensure_ascii=False)
    # A file's name may be bytes that are no UTF-8 (from an old archive): it counts as well.
    return hashlib.sha256(text.encode(errors="surrogatepass")).hexdigest()


def _plain(value: Any) -> str:
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    return repr(value)


def files_fingerprint(root: Path, files: Iterable[Path]) -> str:
    """Hash names (below `root`) and contents of files, in the order given."""
    digest = hashlib.sha256()
    for path in files:
        content = hashlib.sha256(path.read_bytes()).digest()
        name = path.relative_to(root).as_posix().encode(errors="surrogatepass")
        digest.update(name + b"\0" + content)
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


@contextmanager
def named(place: Path) -> Iterator[None]:
    """Let an error of the disk (full, say) name the place where it came up."""
    try:
        yield
    except OSError as error:
        if error.filename is not None or error.errno is None:
            raise
        raise OSError(error.errno, error.strerror, str(place)) from error


class Cache:
    """A folder of entries.

    Parameters
    ----------
    folder : Path
        Made when the first entry is put in.
    limit_bytes : int
        `trim` takes out the entries used longest ago above this size.
    in_use_s : float
        What was used within this time is not trimmed, as another build may count on it.
    """

    def __init__(
        self,
        folder: Path,
        *,
        limit_bytes: int = DEFAULT_LIMIT_BYTES,
        in_use_s: float = IN_USE_S,
    ) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes
        self.in_use_s = in_use_s

    def get(self, key: str) -> bytes | None:
        """Give an entry's bytes, or None."""
        path = self._path(key)
        try:
            with path.open("rb") as file:
                # Line by line, because a minute of audio is not to be copied to cut it.
                digest, body = file.readline(_DIGEST_LINE).rstrip(b"\n"), file.read()
        except FileNotFoundError:
            return None
        if hashlib.sha256(body).hexdigest().encode() != digest:
            # A damaged disk or an interrupted copy: forget it and compute it again.
            _taken_out(path)
            return None
        self.touch(key)
        return body

    def need(self, key: str) -> bytes:
        """Give an entry that this very build has made or found.

        Raises
        ------
        CacheLossError
            If it has gone since.
        """
        body = self.get(key)
        if body is None:
            raise CacheLossError(
                f"an entry of the cache {self.folder} was lost while it was needed",
                remedy="build again",
            )
        return body

    def touch(self, key: str) -> bool:
        """Say whether an entry is there, and note that it is in use."""
        path = self._path(key)
        try:
            os.utime(path)
        except FileNotFoundError:
            return False
        except OSError:
            # Another user's entry, or a shelf to read only: to be used, not to be dated.
            return path.is_file()
        return True

    def put(self, key: str, body: bytes) -> None:
        """Store an entry; an entry of that name is replaced as a whole."""
        path = self._path(key)
        path.parent.mkdir(parents=True, exist_ok=True)
        digest = hashlib.sha256(body).hexdigest().encode()
        with tempfile.NamedTemporaryFile(
            dir=path.parent, prefix=_UNFINISHED, delete=False
        ) as file:
            try:
                with named(self.folder):
                    file.write(digest + b"\n")
                    file.write(body)
                    file.close()
                    Path(file.name).replace(path)
            except BaseException:  # a full disk, or Ctrl-C
                with suppress(OSError):  # what is not written yet is tried once more
                    file.close()
                Path(file.name).unlink(missing_ok=True)
                raise

    def keep(self, body: bytes) -> str:
        """Store bytes under their own hash and give it; what is there already stays."""
        key = hashlib.sha256(body).hexdigest()
        # Read, not only looked for: a damaged one must give way to what is at hand now.
        if self.get(key) is None:
            self.put(key, body)
        return key

    def through(self, key: str, compute: Callable[[], bytes]) -> bytes:
        """Give an entry, computing and storing it first if it is missing."""
        body = self.get(key)
        if body is None:
            body = compute()
            self.put(key, body)
        return body

    def trim(self) -> int:
        """Take out the entries used longest ago until the limit is kept; count them.

        What was used within `in_use_s` stays, whatever the limit; what a killed process
        left unfinished goes after `IN_USE_S`.
        """
        total = removed = 0
        now = time.time()
        for used, size, path in sorted(self._entries(), reverse=True):
            total += size
            if path.name.startswith(_UNFINISHED):
                goes = used < now - IN_USE_S
            else:
                goes = used < now - self.in_use_s and total > self.limit_bytes
            if goes:
                removed += _taken_out(path)
        return removed

    def _entries(self) -> list[tuple[float, int, Path]]:
        """Give time of last use, size and path of everything; others may be removing."""
        entries = []
        for path in self.folder.glob("??/*"):
            with suppress(FileNotFoundError):
                stat = path.stat()
                entries.append((stat.st_mtime, stat.st_size, path))
        return entries

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / key


def _taken_out(path: Path) -> bool:
    """Remove an entry, unless it belongs to another user or the shelf is read only."""
    try:
        path.unlink(missing_ok=True)
    except OSError:
        # It costs room, or is found damaged again: neither is a reason to stop.
        return False
    return True
