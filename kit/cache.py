"""A store of computed bytes, found again by what they were computed from.

An entry's name is the SHA-256 of everything that went into it, so an entry is never wrong,
only missing. Writers put a finished file in place by one rename: a crash leaves nothing
half written, and two writers of one entry write the same bytes. An entry's first line is a
seal over its name and its bytes; one that is damaged, lies under another name, cannot be
read or is no file at all counts as missing, and is made anew.

Several users may share the folder: whoever it lets write into it may use, replace and trim
what the others have put there (`kit.shared_folder`). What cannot be put there is kept in
a place of the user's own.

Putting entries in takes room; `Cache.trim` takes out what was used longest ago, and never
what was used within the last half hour, because another build may be counting on it.

It stands in the user's cache folder, or where the environment variable ``KIT_CACHE``
points, and keeps to 10 GB or what ``KIT_CACHE_GB`` says. Deleting it costs time, never
work.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

import platformdirs

from kit.errors import SetupError
from kit.reading import UnusableError, open_regular
from kit.shared_folder import UNFINISHED, put_file, take_out

__all__ = [
    "Cache",
    "CacheLossError",
    "code_fingerprint",
    "default_cache",
    "files_fingerprint",
    "fingerprint",
    "named",
]

T = TypeVar("T")
_APPLICATION = "tune-lesson-kit"
_SEAL_LINE = 65
"""Bytes of the first line of an entry: its seal, and the end of the line."""
_LARGEST_BYTES = 1 << 30
"""Of one entry; an hour of raw sound has less."""
_ENTRY_NAME = re.compile(rf"[0-9a-f]{{64}}|{UNFINISHED}.*")
_NOT_OURS = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})
"""What the system says where a user may not write."""
DEFAULT_LIMIT_BYTES = 10_000_000_000
IN_USE_S = 1800
"""What was used within this time is not trimmed, and no build takes so long to write."""


class CacheLossError(SetupError):
    """An entry that was there a moment ago is gone or damaged."""


def default_cache() -> Cache:
    """Give the cache of this user.

    Raises
    ------
    SetupError
        If ``KIT_CACHE_GB`` is not a number.
    """
    place = os.environ.get("KIT_CACHE") or platformdirs.user_cache_dir(_APPLICATION)
    limit = os.environ.get("KIT_CACHE_GB")
    # Absolute, because a notebook that is run with it stands in its lesson's folder.
    folder = Path(place).absolute()
    if not limit:
        return Cache(folder)
    try:
        return Cache(folder, limit_bytes=int(float(limit) * 1e9))
    except (ValueError, OverflowError) as error:
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
    """Hash names (below `root`) and contents of files, in the order given.

    Parameters
    ----------
    root : Path
        The folder that the names count from.
    files : iterable of Path
        In or below `root`; another order gives another hash.

    Returns
    -------
    str
        64 hexadecimal digits.

    Raises
    ------
    OSError
        If a file cannot be read.
    ValueError
        If a file does not lie below `root`.
    """
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
    part : str
        A folder inside that one where the entries lie, kept apart from its other entries.
    """

    def __init__(
        self,
        folder: Path,
        *,
        limit_bytes: int = DEFAULT_LIMIT_BYTES,
        in_use_s: float = IN_USE_S,
        part: str = "",
    ) -> None:
        self.folder = folder
        self.limit_bytes = limit_bytes
        self.in_use_s = in_use_s
        self.part = part

    def get(self, key: str) -> bytes | None:
        """Give an entry's bytes, or None."""
        found = self._found(key)
        return None if found is None else found[0]

    def blob(self, key: str) -> bytes | None:
        """Give bytes kept under their own hash (`keep`), or None."""
        found = self._found(key)
        return None if found is None or found[1] != key else found[0]

    def parsed(self, key: str, parse: Callable[[bytes], T]) -> T | None:
        """Give what an entry says, or None if it is missing or says something else.

        `parse` raises ValueError if the bytes are none that could lie there.
        """
        body = self.get(key)
        if body is None:
            return None
        try:
            return parse(body)
        except ValueError:
            return None

    def need(self, blob: str) -> bytes:
        """Give bytes kept under their own hash that this very build has made or found.

        Raises
        ------
        CacheLossError
            If they have gone since.
        """
        body = self.blob(blob)
        if body is None:
            raise CacheLossError(
                f"an entry of the cache {self.folder} was lost while it was needed",
                remedy="build again",
            )
        return body

    def touch(self, key: str) -> bool:
        """Say whether an entry is there, and note that it is in use."""
        for path in self._paths(key):
            if _is_readable(path):
                # Another user's, or a cache to read only: to be used, not to be dated.
                with suppress(OSError):
                    os.utime(path)
                return True
        return False

    def put(self, key: str, body: bytes) -> None:
        """Store an entry; an entry of that name is replaced as a whole.

        Raises
        ------
        OSError
            If there is no room, or no place where this user may write.
        """
        seal = _seal(key, hashlib.sha256(body).hexdigest()) + b"\n"
        refused: OSError | None = None
        for top in self._tops():
            try:
                with named(top):
                    put_file(top, self._below(top, key), seal, body)
            except OSError as error:
                if error.errno not in _NOT_OURS:
                    raise
                refused = refused or error
            else:
                return
        if refused is not None:
            raise refused

    def keep(self, body: bytes) -> str:
        """Store bytes under their own hash and give it; what is there already stays."""
        key = hashlib.sha256(body).hexdigest()
        # Read, not only looked for: a damaged one must give way to what is at hand now.
        if self.blob(key) is None:
            self.put(key, body)
        return key

    def through(self, key: str, compute: Callable[[], bytes]) -> bytes:
        """Give an entry, computing and storing it first if it is missing."""
        return self.parsed_through(key, compute, bytes)

    def parsed_through(
        self, key: str, compute: Callable[[], bytes], parse: Callable[[bytes], T]
    ) -> T:
        """Give what an entry says, as `parsed`, computing and storing it if need be.

        Parameters
        ----------
        key : str
            The entry's name: 64 hexadecimal digits, as of `fingerprint`.
        compute : callable
            Gives the entry's bytes; called only if they are missing or say nothing.
        parse : callable
            Turns bytes into what they say, as for `parsed`.

        Raises
        ------
        OSError
            If the entry cannot be stored.
        ValueError
            If `parse` cannot read what `compute` gives.
        """
        found = self.parsed(key, parse)
        if found is None:
            body = compute()
            self.put(key, body)
            found = parse(body)
        return found

    def trim(self) -> int:
        """Take out the entries used longest ago until the limit is kept; count them.

        What was used within `in_use_s` stays, whatever the limit; what a killed process
        left unfinished goes after `IN_USE_S`. Files that are no entries stay.
        """
        total = removed = 0
        now = time.time()
        for used, size, path in sorted(self._entries(), reverse=True):
            total += size
            if path.name.startswith(UNFINISHED):
                goes = used < now - IN_USE_S
            else:
                goes = used < now - self.in_use_s and total > self.limit_bytes
            if goes:
                removed += take_out(path)
        return removed

    def _found(self, key: str) -> tuple[bytes, str] | None:
        """Give an entry's bytes and their hash."""
        for path in self._paths(key):
            try:
                with open_regular(path) as file:
                    # Line by line, as a minute of audio is not to be copied to cut it.
                    seal = file.readline(_SEAL_LINE).rstrip(b"\n")
                    body = file.read(_LARGEST_BYTES)
            except (OSError, UnusableError):
                # Not there, or another user's alone, or a folder.
                continue
            digest = hashlib.sha256(body).hexdigest()
            if seal == _seal(key, digest):
                with suppress(OSError):  # another user's, or a cache to read only
                    os.utime(path)
                return body, digest
            # A damaged disk or an interrupted copy: forget it and compute it again.
            take_out(path)
        return None

    def _entries(self) -> list[tuple[float, int, Path]]:
        """Give time of last use, size and path of everything; others may be removing."""
        entries = []
        for top in self._tops():
            for path in (top / self.part).glob("??/*"):
                if _ENTRY_NAME.fullmatch(path.name):
                    with suppress(OSError):
                        stat = path.stat()
                        entries.append((stat.st_mtime, stat.st_size, path))
        return entries

    def _tops(self) -> Iterator[Path]:
        """Give the folders where entries are looked for, and put if the first will not do.

        Behind the shared one come two of this user's own: inside it, and elsewhere.
        """
        yield self.folder
        yield self.folder / f"own-{_user()}"
        mark = hashlib.sha256(os.fsencode(self.folder)).hexdigest()[:16]
        yield Path(platformdirs.user_cache_dir(_APPLICATION)) / f"own-{mark}"

    def _paths(self, key: str) -> Iterator[Path]:
        return (self._below(top, key) for top in self._tops())

    def _below(self, top: Path, key: str) -> Path:
        return top / self.part / key[:2] / key


def _seal(key: str, digest: str) -> bytes:
    return hashlib.sha256(f"{key} {digest}".encode()).hexdigest().encode()


def _is_readable(path: Path) -> bool:
    as_now = os.access in os.supports_effective_ids
    try:
        return path.is_file() and os.access(path, os.R_OK, effective_ids=as_now)
    except OSError:
        # In a folder that is another user's alone.
        return False


def _user() -> str:
    """Name this user where several share a folder; Windows gives each their own."""
    return str(os.geteuid()) if hasattr(os, "geteuid") else "me"
