"""What is a file really, whatever it calls itself?

By its first bytes, as the formats' own specifications give them. A file may also be two
things at once: a picture to one program, and an archive, a document or a page to another
that looks elsewhere in it.
"""

from __future__ import annotations

import io
import re
import zipfile

from kit.pictures._jpeg import JPEG_SIGNATURE
from kit.pictures._png import PNG_SIGNATURE

__all__ = ["TYPE_NAMES", "kind_of", "other_file_in"]

TYPE_NAMES = {"image/png": "PNG", "image/jpeg": "JPEG"}
_STARTS = (
    (PNG_SIGNATURE, "PNG"),
    (JPEG_SIGNATURE, "JPEG"),
    (b"GIF8", "GIF"),
    (b"BM", "BMP"),
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"%PDF-", "PDF"),
    (b"%!PS", "PostScript"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"8BPS", "a Photoshop document"),
    (b"\0\0\1\0", "an icon file"),
)
_IN_CONTAINERS = (
    (re.compile(rb"RIFF....WEBP", re.DOTALL), "WebP"),
    (re.compile(rb"....ftyp(?:avif|avis)", re.DOTALL), "AVIF"),
    (re.compile(rb"....ftyp(?:hei[cfmsx]|mif1|msf1)", re.DOTALL), "HEIC"),
    (re.compile(rb"\s*(?:<\?xml|<!--|<!DOCTYPE svg|<svg)", re.IGNORECASE), "SVG"),
    (re.compile(rb"\s*<(?:!DOCTYPE html|html|head|body|script)", re.IGNORECASE), "HTML"),
)
_MARKUP = re.compile(rb"<(?:html|script|svg|body|\?php|!doctype)\b", re.IGNORECASE)
_PDF_WITHIN = 1024
"""Readers of PDF accept its header within so many bytes."""


def kind_of(data: bytes) -> str:
    """Name the kind of a file, or give nothing if it is not known."""
    for start, name in _STARTS:
        if data.startswith(start):
            return name
    head = data[:256]
    return next((name for form, name in _IN_CONTAINERS if form.match(head)), "")


def other_file_in(data: bytes, tail: bytes) -> str:
    """Name another file that a picture is at the same time, or give nothing.

    Parameters
    ----------
    data : bytes
        The whole file.
    tail : bytes
        What follows its end.
    """
    if b"%PDF-" in data[:_PDF_WITHIN] or b"%PDF-" in tail:
        return "a PDF"
    if _MARKUP.search(tail):
        return "an HTML page"
    # An archive is read from its end, so that it may begin anywhere.
    if b"PK\x05\x06" in data and zipfile.is_zipfile(io.BytesIO(data)):
        return "a ZIP archive"
    return ""
