"""What stands in a PDF: on its pages, in its properties, for screen readers, attached?

The words of the pages come from PDFium, which finds the words a reader sees and marks the
hyphens that the printer put in. All else is found by walking over the PDF's objects with
pypdf: whatever text any of them holds (alternative texts, bookmarks, links, properties),
the metadata in XML, attached files, pictures.

Source: ISO 32000-1:2008.
"""

from __future__ import annotations

import io
import logging
import threading
from collections.abc import Iterator
from typing import Any

from kit.publish.leaks._piece import Found, Inside, Plain, within

__all__ = ["bookmarks", "page_texts", "pdf"]

_NAMES = {
    "/Alt": "alternative text", "/ActualText": "text for screen readers", "/URI": "link",
    "/Desc": "description of an attachment", "/F": "name of an attachment",
    "/UF": "name of an attachment",
}  # fmt: skip
_PROPERTIES = frozenset(
    ("/Author", "/Subject", "/Keywords", "/Creator", "/Producer", "/CreationDate")
)
_LOCK = threading.Lock()
"""PDFium may be called by one thread at a time."""
logging.getLogger("pypdf").addHandler(logging.NullHandler())


def page_texts(data: bytes) -> list[str]:
    """Give the words of each page; none if the file cannot be opened."""
    import pypdfium2  # noqa: PLC0415 - only where there are PDFs

    with _LOCK:
        try:
            document = pypdfium2.PdfDocument(data)
        except pypdfium2.PdfiumError:
            return []
        try:
            texts = []
            for page in document:
                words = page.get_textpage()
                texts.append(words.get_text_range())
                words.close()
                page.close()
            return texts
        finally:
            document.close()


def bookmarks(data: bytes) -> list[str]:
    """Give the titles of the bookmarks, the headings, in order."""
    import pypdfium2  # noqa: PLC0415 - only where there are PDFs

    with _LOCK:
        document = pypdfium2.PdfDocument(data)
        try:
            return [str(mark.get_title()) for mark in document.get_toc()]
        finally:
            document.close()


def pdf(data: bytes, place: str) -> Iterator[Found]:
    """Read a PDF."""
    for number, text in enumerate(page_texts(data), start=1):
        yield Plain(within(place, f"page {number}"), text)
    yield from _objects(data, place)


def _objects(data: bytes, place: str) -> Iterator[Found]:
    import pypdf  # noqa: PLC0415 - only where there are PDFs
    from pypdf.errors import PyPdfError  # noqa: PLC0415
    from pypdf.generic import DictionaryObject, IndirectObject, StreamObject  # noqa: PLC0415

    texts: dict[str, list[str]] = {}
    try:
        reader = pypdf.PdfReader(io.BytesIO(data), strict=False)
        numbers = range(1, int(str(reader.trailer["/Size"])))
    except (PyPdfError, OSError, ValueError, KeyError, TypeError):
        yield Plain(place, data.decode("latin-1"))
        return
    for number in numbers:
        try:
            thing = reader.get_object(IndirectObject(number, 0, reader))
        except (PyPdfError, OSError, ValueError, KeyError, TypeError):
            # A number that no object has.
            continue
        _collect(thing, "", texts, 0)
        if isinstance(thing, StreamObject):
            yield from _stream(thing, place)
        elif isinstance(thing, DictionaryObject) and "/EF" in thing:
            yield from _attached(thing, place)
    for name, found in texts.items():
        yield Plain(within(place, name), "\n".join(found))


def _collect(thing: Any, name: str, texts: dict[str, list[str]], depth: int) -> None:
    """Gather every text below an object, but not what it refers to."""
    from pypdf.generic import (  # noqa: PLC0415 - as above
        ArrayObject,
        ByteStringObject,
        DictionaryObject,
        TextStringObject,
    )

    if isinstance(thing, TextStringObject):
        texts.setdefault(name, []).append(str(thing))
    elif isinstance(thing, ByteStringObject):
        texts.setdefault(name, []).append(bytes(thing).decode("utf-8", "replace"))
    elif isinstance(thing, DictionaryObject) and depth < 20:
        is_properties = bool(_PROPERTIES & thing.keys())
        for key in thing:
            label = f"document property {key[1:]}" if is_properties else _NAMES.get(key)
            if label is None:
                label = "bookmark" if key == "/Title" else name or f"object text {key[1:]}"
            _collect(thing.raw_get(key), label, texts, depth + 1)
    elif isinstance(thing, ArrayObject) and depth < 20:
        for one in list.__iter__(thing):
            _collect(one, name or "object text", texts, depth + 1)


def _attached(thing: Any, place: str) -> Iterator[Found]:
    name = str(thing.get("/UF") or thing.get("/F") or "file")
    stream = thing["/EF"].get("/F")
    if stream is not None:
        where = within(place, f"attachment {name}")
        yield Inside(where, stream.get_object().get_data())


def _stream(thing: Any, place: str) -> Iterator[Found]:
    subtype, kind = thing.get("/Subtype"), thing.get("/Type")
    if subtype == "/XML" or kind == "/Metadata":
        yield Inside(within(place, "metadata"), thing.get_data())
    elif subtype == "/Image":
        data = _picture(thing)
        if data:
            yield Inside(within(place, "picture"), data)


def _picture(thing: Any) -> bytes | None:
    """Give the picture of an image object as a file by itself."""
    from PIL import Image  # noqa: PLC0415 - few PDFs hold pictures

    filters = thing.get("/Filter")
    last = filters[-1] if isinstance(filters, list) and filters else filters
    if last in ("/DCTDecode", "/JPXDecode"):
        raw: bytes = thing._data
        return raw
    width, height = int(thing["/Width"]), int(thing["/Height"])
    pixels = thing.get_data()
    channels = len(pixels) // (width * height) if width * height else 0
    mode = {1: "L", 3: "RGB", 4: "CMYK"}.get(channels)
    if mode is None or thing.get("/BitsPerComponent") != 8:
        return None
    kept = io.BytesIO()
    size = width * height * channels
    Image.frombytes(mode, (width, height), pixels[:size]).convert("RGB").save(kept, "PNG")
    return kept.getvalue()
