"""What did a lesson's files say before, and how does one get it back?

Each time the kit replaces a lesson file, what it replaces is kept in the hidden folder
``.kit-history`` of the lesson, one folder for each file. The newest `KEPT` versions stay.

Conventions
-----------
* A version's file name is the moment at which it was replaced (UTC, ISO 8601 basic format)
  and the beginning of its SHA-256, so that names sort by time on every system.
* The folder keeps itself out of git, and no build looks into it.
"""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from kit.errors import LessonError

__all__ = ["HISTORY_FOLDER", "KEPT", "Version", "digest_of", "keep_version", "versions"]

HISTORY_FOLDER = ".kit-history"
KEPT = 20
"""Versions of one file; an evening's edits, and some weeks of small corrections."""

_MARK = 12
"""Digits of the content hash in a version's name: none of 20 versions is like another."""
_MOMENT = "%Y%m%dT%H%M%S.%fZ"
_NAME = re.compile(r"(\d{8}T\d{6}\.\d{6}Z)-([0-9a-f]{12})")


@dataclass(frozen=True, slots=True)
class Version:
    """An earlier state of a lesson file.

    Parameters
    ----------
    name : str
        The file, relative to the lesson folder, with forward slashes.
    replaced : datetime
        When it was replaced, UTC.
    path : Path
        Where it is kept.
    """

    name: str
    replaced: datetime
    path: Path

    def read(self) -> bytes:
        """Give what the file said.

        Raises
        ------
        LessonError
            If the kept version has been damaged since.
        """
        data = self.path.read_bytes()
        if digest_of(data)[:_MARK] != _marked(self.path):
            raise LessonError(
                f"the version of {self.replaced:%Y-%m-%d %H:%M} UTC has been damaged",
                file=self.name,
                remedy="choose another version",
            )
        return data


def digest_of(data: bytes) -> str:
    """Give the content hash by which changes are noticed (SHA-256, hexadecimal)."""
    return hashlib.sha256(data).hexdigest()


def keep_version(folder: Path, name: str, data: bytes) -> None:
    """Keep what a file said, and let the oldest versions go.

    Parameters
    ----------
    folder : Path
        The lesson folder.
    name : str
        The file, relative to it.
    data : bytes
        Its content; kept once if it is what the newest version says already.
    """
    place = _versions_folder(folder, name)
    place.mkdir(parents=True, exist_ok=True)
    ignore = folder / HISTORY_FOLDER / ".gitignore"
    if not ignore.exists():
        ignore.write_text("*\n", encoding="utf-8")
    mark = digest_of(data)[:_MARK]
    known = versions(folder, name)
    if known and _marked(known[0].path) == mark:
        return
    moment = datetime.now(UTC).strftime(_MOMENT)
    kept = place / f"{moment}-{mark}"
    # Under another name until it is whole: a full disk must not leave half a version.
    part = kept.with_name("writing")
    try:
        part.write_bytes(data)
        part.replace(kept)
    finally:
        part.unlink(missing_ok=True)
    for old in versions(folder, name)[KEPT:]:
        old.path.unlink(missing_ok=True)


def versions(folder: Path, name: str) -> tuple[Version, ...]:
    """List the kept versions of a file, the newest first."""
    place = _versions_folder(folder, name)
    if not place.is_dir():
        return ()
    found = []
    for path in place.iterdir():
        match = _NAME.fullmatch(path.name)
        if match:
            moment = datetime.strptime(match[1], _MOMENT).replace(tzinfo=UTC)
            found.append(Version(name, moment, path))
    return tuple(sorted(found, key=lambda version: version.path.name, reverse=True))


def _versions_folder(folder: Path, name: str) -> Path:
    return folder / HISTORY_FOLDER / name.replace("/", "--")


def _marked(path: Path) -> str:
    match = _NAME.fullmatch(path.name)
    return match[2] if match else ""
