"""What does a stranger read in an output folder? Every free file, opened, as plain text.

This is a search of its own: it uses nothing of the kit's, and takes the manifest's word
only for which files are free.
"""

from __future__ import annotations

import base64
import html
import io
import json
import re
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import pikepdf
from pypdf import PdfReader

__all__ = ["free_parts"]

_BASE64 = re.compile(rb"[A-Za-z0-9+/]{60,}={0,2}")


def free_parts(out: Path) -> Iterator[tuple[str, str]]:
    """Yield name and text of everything that is free below an output folder."""
    for folder in sorted(path.parent for path in out.glob("*/manifest.json")):
        files = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))["files"]
        listed = {folder / file["path"] for file in files if file.get("tier") == "free"}
        public = {path for path in (folder / "public").rglob("*") if path.is_file()}
        for path in sorted(listed | public):
            yield from _opened(path.relative_to(out).as_posix(), path.read_bytes())
    for name in ("public/index.html", "free-site.zip"):
        if (out / name).is_file():
            yield from _opened(name, (out / name).read_bytes())


def _opened(name: str, data: bytes) -> Iterator[tuple[str, str]]:
    yield name, _words(data)
    if data.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            for member in archive.namelist():
                yield f"{name}/{member}", member
                yield from _opened(f"{name}/{member}", archive.read(member))
    elif data.startswith(b"%PDF"):
        yield from _pdf(name, data)
    elif data.lstrip().startswith(b"<"):
        for found in _BASE64.findall(data):
            inner = base64.b64decode(found + b"=" * (-len(found) % 4))
            yield f"{name}, inside", _words(inner)
            if inner.startswith((b"\x1f\x8b", b"x\x9c", b"x\xda")):
                yield (
                    f"{name}, packed inside",
                    _words(zlib.decompressobj(47).decompress(inner)),
                )


def _words(data: bytes) -> str:
    found = data.decode("utf-8", "replace")
    parts = [
        found,
        html.unescape(found),
        data.decode("utf-16-le", "replace"),
        data[1:].decode("utf-16-le", "replace"),
    ]
    return "\n".join(parts)


def _pdf(name: str, data: bytes) -> Iterator[tuple[str, str]]:
    # A word may be divided at the end of a line.
    reader = PdfReader(io.BytesIO(data))
    pages = "\n".join(page.extract_text() for page in reader.pages)
    yield f"{name}, text", pages + pages.replace("-\n", "").replace("\u00ad", "")
    with pikepdf.open(io.BytesIO(data)) as paper:
        for place, thing in enumerate(paper.objects):
            # Titles and names are strings in dictionaries; notes and attachments streams.
            if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
                yield f"{name}, object {place}", repr(thing)
            if isinstance(thing, pikepdf.Stream) and thing.get("/Subtype") != "/Image":
                yield f"{name}, stream {place}", _words(thing.read_bytes())
