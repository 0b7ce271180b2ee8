"""Zip files that a site uploads, the same bytes from the same input.

Names are sorted, dates are fixed (1 January 1980, the earliest a zip can hold), and
compression depends on the kind of file only.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kit.publish.manifest import BuiltFile

__all__ = ["bundled", "zip_bytes"]

_PACKED = (".mp3", ".pdf", ".png", ".zip", ".mp4", ".mxl")


def bundled(files: Iterable[BuiltFile]) -> list[BuiltFile]:
    """Give the files that a site uploads: all but the teacher's own, in ``recording/``."""
    return [file for file in files if not file.path.startswith("recording/")]


def zip_bytes(files: Mapping[str, bytes]) -> bytes:
    """Pack files by their names in the archive."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name in sorted(files):
            info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
            info.external_attr = 0o644 << 16
            info.create_system = 3
            packed = name.lower().endswith(_PACKED)
            info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            archive.writestr(info, files[name], compresslevel=None if packed else 6)
    return buffer.getvalue()
