"""Zip files that a site uploads, the same bytes from the same input.

Names are sorted, dates are fixed (1 January 1980, the earliest a zip can hold), and
compression depends on the kind of file only.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from kit.publish.made import Entry

__all__ = ["bundled", "write_bundle", "zip_bytes"]

_PACKED = (".mp3", ".pdf", ".png", ".zip", ".mp4", ".mxl", ".flac")

_TEACHERS = ("recording/", "teacher/")

_LITTLE_EFFORT = 1
"""For zlib: what is large and not packed is a page, most of it audio in base64, of which
more effort takes nothing more off."""


def bundled(entries: Iterable[Entry]) -> list[Entry]:
    """Give the files that a site uploads: all but the teacher's own."""
    return [entry for entry in entries if not entry["path"].startswith(_TEACHERS)]


def zip_bytes(files: Mapping[str, bytes]) -> bytes:
    """Pack files by their names in the archive."""
    buffer = io.BytesIO()
    _write(buffer, {name: partial(_same, data) for name, data in files.items()})
    return buffer.getvalue()


def write_bundle(path: Path, files: Mapping[str, Path]) -> None:
    """Pack files on disk by their names in the archive, one at a time in memory.

    Equal files make equal archives: the order of names, the dates and the rights in it are
    always the same.

    Parameters
    ----------
    path : Path
        The archive; one that is there is overwritten.
    files : mapping of str to Path
        Names in the archive to files on the disk.

    Raises
    ------
    OSError
        If a file cannot be read or the archive not be written.
    """
    with path.open("wb") as archive:
        _write(archive, {name: source.read_bytes for name, source in files.items()})


def _same(data: bytes) -> bytes:
    return data


def _write(target: IO[bytes], files: Mapping[str, Callable[[], bytes]]) -> None:
    with zipfile.ZipFile(target, "w") as archive:
        for name in sorted(files):
            info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            info.external_attr = 0o644 << 16
            info.create_system = 3
            packed = name.lower().endswith(_PACKED)
            info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            archive.writestr(
                info, files[name](), compresslevel=None if packed else _LITTLE_EFFORT
            )
