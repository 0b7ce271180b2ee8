"""Which of the files beside the lessons' outputs did the kit write, and nobody change?

The catalogue's files lie in a folder that the teacher may use as well: for an
``index.html`` of their own, or a ``public/`` that is the site itself. So what the kit
writes there carries a *seal*: a last line, a comment, with the SHA-256 of all lines above
it. A file is the kit's own while its seal fits; it then may be replaced or taken away.
Anything else is the teacher's: a file without a seal, and one of ours that was edited,
which no longer fits. A seal needs no list beside the files, so it holds in a copy, after a
crash, and with a file brought back from a backup. Line ends do not count, since programs
that move files change them.

A zip is the kit's own if it holds nothing but such files.

Kits before this one wrote no seal. Their files are known by their build; since nobody can
tell whether one was edited, it is kept aside when it is first replaced.

Contents
--------
`sealed`, `ownership`; `kit.output.own_files` puts files in place.
"""

from __future__ import annotations

import hashlib
import io
import re
import xml.etree.ElementTree as ET
import zipfile
import zlib
from pathlib import Path
from typing import Literal
from uuid import NAMESPACE_URL, uuid5

from defusedxml import DefusedXmlException
from defusedxml.ElementTree import fromstring

__all__ = ["GENERATOR", "Ownership", "ownership", "sealed"]

Ownership = Literal["none", "own", "earlier", "foreign"]

GENERATOR = "tune-lesson-kit"
"""What a sealed page or feed says of itself besides; an edited one without seal has it."""
MAX_OWN_BYTES = 100_000_000
"""The page of 2,000 lessons has a tenth of this; what is larger is none of ours."""
_SEAL = re.compile(rb"<!-- tune-lesson-kit: sha256 of the lines above: ([0-9a-f]{64}) -->")
_MARKS = (
    f"<!-- {GENERATOR}: ".encode(),
    f'<meta name="generator" content="{GENERATOR}">'.encode(),
    f"<generator>{GENERATOR}</generator>".encode(),
)
_ATOM = "{http://www.w3.org/2005/Atom}"
_EARLIER_PAGE = (
    '<body class="catalogue">\n<a class="skip" href="#lessons">Skip to the lessons</a>',
    '<div id="lessons" tabindex="-1">',
    '<footer class="imprint wrap">',
)
_EARLIER_END = "</script>\n</body>\n</html>"
_ZIPPED = {"index.html", "feed.xml"}


def sealed(text: str) -> bytes:
    """Add the seal to the text of a page or a feed."""
    lines = (text.replace("\r\n", "\n").rstrip("\n") + "\n").encode()
    digest = hashlib.sha256(lines).hexdigest()
    return lines + f"<!-- {GENERATOR}: sha256 of the lines above: {digest} -->\n".encode()


def ownership(path: Path) -> Ownership:
    """Say whose the file at a path is.

    Parameters
    ----------
    path : Path
        With links followed.

    Returns
    -------
    str
        *none*: nothing is there; *own*; *earlier*: an earlier kit wrote it; *foreign*.

    Raises
    ------
    OSError
        If it cannot be read.
    """
    if not path.exists() and not path.is_symlink():
        return "none"
    if not path.is_file() or path.stat().st_size > MAX_OWN_BYTES:
        return "foreign"
    data = path.read_bytes()
    return _of_zip(data) if path.suffix == ".zip" else _of_text(data)


def _of_text(data: bytes) -> Ownership:
    lines = data.replace(b"\r\n", b"\n").rstrip(b"\n")
    above, _, last = lines.rpartition(b"\n")
    seal = _SEAL.fullmatch(last)
    if seal:
        fits = hashlib.sha256(above + b"\n").hexdigest().encode() == seal[1]
        return "own" if fits else "foreign"
    # Titles cannot write these, as their "<" is escaped: what has one was sealed once.
    if any(mark in data for mark in _MARKS):
        return "foreign"
    text = lines.decode(errors="replace")
    return "earlier" if _is_earlier_page(text) or _is_earlier_feed(text) else "foreign"


def _is_earlier_page(text: str) -> bool:
    return (
        text.lstrip().startswith("<!DOCTYPE html>\n<html lang=")
        and text.endswith(_EARLIER_END)
        and all(text.count(piece) == 1 for piece in _EARLIER_PAGE)
    )


def _is_earlier_feed(text: str) -> bool:
    """Know a feed by its id, which the kit makes from its title."""
    if "<feed " not in text:
        return False
    try:
        feed = fromstring(text)
    except (ET.ParseError, DefusedXmlException, ValueError):
        return False
    title = feed.findtext(f"{_ATOM}title", "")
    name = title.removesuffix(": new lessons") if title != "New lessons" else "Lessons"
    ids = {
        f"urn:uuid:{uuid5(NAMESPACE_URL, f'{name}/{audience}')}"
        for audience in ("members", "public")
    }
    return feed.tag == f"{_ATOM}feed" and feed.findtext(f"{_ATOM}id") in ids


def _of_zip(data: bytes) -> Ownership:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = archive.infolist()
            names = [info.filename for info in infos]
            if (
                archive.comment
                or "index.html" not in names
                or len(set(names)) != len(names)
                or not _ZIPPED.issuperset(names)
                or sum(info.file_size for info in infos) > MAX_OWN_BYTES
            ):
                return "foreign"
            found = {_of_text(archive.read(info)) for info in infos}
    except (
        zipfile.BadZipFile, zlib.error, EOFError, ValueError, RuntimeError, OSError
    ):  # fmt: skip
        # Damaged, encrypted, or packed as the kit does not: none of ours, or not any more.
        return "foreign"
    if "foreign" in found:
        return "foreign"
    return "own" if found == {"own"} else "earlier"
