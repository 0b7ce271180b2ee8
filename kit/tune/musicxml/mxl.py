"""Which MusicXML score does a compressed .mxl file hold?

A stranger's archive is opened in memory only: nothing is written to disk, no member's
name is used as a path, and every size is checked before anything is unpacked.

Source: MusicXML 4.0, "Compressed .mxl files" (container.xml names the root file).
"""

from __future__ import annotations

import io
import zipfile
import zlib

from kit.errors import NotationError
from kit.tune.musicxml.xml_tree import parse_xml

__all__ = ["read_mxl"]

MAX_MEMBERS = 200
MAX_UNPACKED_BYTES = 50_000_000
MAX_RATIO = 200
"""Text repeats itself, but a score hardly ever shrinks to less than a hundredth."""

_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""MusicXML 4.0 knows no others; what damaged ones raise is different with each."""

_CONTAINER = "META-INF/container.xml"
_SCORE_TYPES = ("", "application/vnd.recordare.musicxml+xml", "application/xml", "text/xml")


def read_mxl(data: bytes, *, source: str) -> bytes:
    """Take the MusicXML root file out of an .mxl archive.

    Raises
    ------
    NotationError
        If the archive is damaged, dangerous or holds no score.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_members(archive, source)
            return _member(archive, _root_file(archive, source), source)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as error:
        raise NotationError(
            "the compressed file is damaged", file=source, remedy="export it again"
        ) from error
    except (RuntimeError, ValueError, UnicodeDecodeError) as error:
        raise NotationError(
            "the compressed file cannot be opened, or asks for a password",
            file=source,
            remedy="export it again as plain MusicXML",
        ) from error


def _check_members(archive: zipfile.ZipFile, source: str) -> None:
    members = archive.infolist()
    unpacked = sum(member.file_size for member in members)
    packed = max(1, sum(member.compress_size for member in members))
    names = [member.filename for member in members]
    complaint = ""
    if len(members) > MAX_MEMBERS:
        complaint = f"it holds {len(members)} files, and {MAX_MEMBERS} is the limit"
    elif unpacked > MAX_UNPACKED_BYTES or unpacked > MAX_RATIO * packed:
        complaint = "it unpacks to far more than a score needs"
    elif any(member.compress_type not in _PACKINGS for member in members):
        complaint = "it is packed in a way that no notation program uses"
    elif any(_leaves_the_archive(name) for name in names):
        complaint = "it holds a file whose name points outside it"
    elif len(set(names)) < len(names):
        complaint = "it holds two files of one name"
    if complaint:
        raise NotationError(
            f"the compressed file is not used: {complaint}",
            file=source,
            remedy="export the score again",
        )


def _leaves_the_archive(name: str) -> bool:
    parts = name.replace("\\", "/").split("/")
    return ".." in parts or parts[0] == "" or ":" in parts[0]


def _root_file(archive: zipfile.ZipFile, source: str) -> str:
    """Give the name of the score that container.xml names first."""
    names = set(archive.namelist())
    if _CONTAINER not in names:
        raise NotationError(
            f"the compressed file has no {_CONTAINER}",
            file=source,
            remedy="export it again as MusicXML",
        )
    container = parse_xml(_member(archive, _CONTAINER, source), source=source)
    for element in container.iter():
        if element.tag.rpartition("}")[2] != "rootfile":
            continue
        name = element.get("full-path", "")
        if element.get("media-type", "") in _SCORE_TYPES and name in names:
            return name
    raise NotationError(
        "the compressed file names no score in it",
        file=source,
        remedy="export it again as MusicXML",
    )


def _member(archive: zipfile.ZipFile, name: str, source: str) -> bytes:
    with archive.open(name) as member:
        # A header may lie about the size; the limit holds for what really comes out.
        data = member.read(MAX_UNPACKED_BYTES + 1)
    if len(data) > MAX_UNPACKED_BYTES:
        raise NotationError("the score in it is too large", file=source)
    return data
