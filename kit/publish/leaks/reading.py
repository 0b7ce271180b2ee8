"""What is inside a file, whatever it is wrapped in?

`pieces` opens a file and everything in it, layer by layer: zips, compressed packs, data in
base64, attachments, tags. What it finds are `Piece`s: texts, melodies, drawings, tables of
times, sounds and pictures, each with the place where it stands. What a file is, its first
bytes say; its name only says what it is called.

The files are the kit's own, so that a file that claims more than it holds is a fault and
no attack; sizes and depth are limited all the same.
"""

from __future__ import annotations

import base64
import binascii
import gzip
import io
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Literal

from kit.publish.leaks.sound import sounds_like_frames

__all__ = ["Piece", "PieceKind", "contents", "pieces", "text_pieces"]

PieceKind = Literal["text", "melody", "drawn", "numbers", "mp3", "picture", "blob"]
MAX_DEPTH = 8
MAX_BYTES = 500_000_000
HEAD = 4096
"""Within so many bytes a piece cut out of an MP3 has two frames."""

_BASE64 = re.compile(
    r"[A-Za-z0-9+/]{40,}(?:(?:\\n|\r?\n)[A-Za-z0-9+/]{4,})*={0,2}|[A-Za-z0-9_-]{40,}={0,2}"
)
_READABLE = re.compile(rb"[\x20-\x7e\xc2-\xf4\x80-\xbf]{12,}")
_READABLE_WIDE = re.compile(rb"(?:[\x20-\x7e]\x00){12,}")
_ABC = re.compile(r"(?m)^X:\s*\d+.*\n(?:.*\n)*?K:.*\n(?:(?!X:)[^\n]+\n?)*")
_HTML = re.compile(r"<(?:!doctype html|html|svg|div|p|span|figure|ol|ul|section)\b", re.I)


@dataclass(frozen=True, slots=True)
class Piece:
    """Something found in a file.

    Parameters
    ----------
    place : str
        Where in the file, as a teacher would say it; empty for the file itself.
    kind : PieceKind
        What `value` is: a ``str``; rows of pitch and onset or of height, head and bar
        (`kit.publish.leaks.melody`); numbers; or the bytes of an MP3, of a picture, or of
        anything that is a file by itself.
    """

    place: str
    kind: PieceKind
    value: Any


def pieces(data: bytes, *, place: str = "", depth: int = 0) -> Iterator[Piece]:
    """Open a file and all that is in it.

    Parameters
    ----------
    data : bytes
        The file.
    place : str
        What to put in front of each place.
    depth : int
        So many wrappings are open already.
    """
    if depth > MAX_DEPTH or len(data) > MAX_BYTES:
        return
    yield Piece(place, "blob", data)
    yield from contents(data)(data, place, depth)


Reader = Callable[[bytes, str, int], Iterator[Piece]]


def contents(data: bytes) -> Reader:
    """Choose the reader by the first bytes."""
    from kit.publish.leaks import read_media, read_music, read_pdf  # noqa: PLC0415 - circle

    starts: tuple[tuple[bytes, Reader], ...] = (
        (b"PK\x03\x04", _zip),
        (b"\x1f\x8b", _gzip),
        (b"\x89PNG\r\n\x1a\n", read_media.png),
        (b"\xff\xd8\xff", read_media.jpeg),
        (b"GIF8", read_media.picture),
        (b"ID3", read_media.mp3),
        (b"\xff\xfb", read_media.mp3),
        (b"\xff\xfa", read_media.mp3),
        (b"fLaC", read_media.flac),
        (b"RIFF", read_media.riff),
        (b"MThd", read_music.midi),
    )
    for start, reader in starts:
        if data.startswith(start):
            return reader
    if b"%PDF-" in data[:1024]:
        return read_pdf.pdf
    if sounds_like_frames(data[:HEAD]):
        return read_media.mp3
    return _text_or_binary


def _zip(data: bytes, place: str, depth: int) -> Iterator[Piece]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except zipfile.BadZipFile:
        yield from _binary(data, place)
        return
    with archive:
        yield Piece(_at(place, "comment of the zip"), "text", _decoded(archive.comment))
        for entry in archive.infolist():
            where = _at(place, entry.filename)
            yield Piece(_at(place, "file names"), "text", entry.filename)
            yield Piece(_at(where, "comment"), "text", _decoded(entry.comment))
            if entry.file_size <= MAX_BYTES and not entry.is_dir():
                yield from pieces(archive.read(entry), place=where, depth=depth + 1)


def _gzip(data: bytes, place: str, depth: int) -> Iterator[Piece]:
    try:
        with gzip.open(io.BytesIO(data)) as packed:
            inside = packed.read(MAX_BYTES)
    except (OSError, EOFError, zlib.error):
        return
    yield from pieces(inside, place=place, depth=depth + 1)


def _text_or_binary(data: bytes, place: str, depth: int) -> Iterator[Piece]:
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        yield from _deflated(data, place, depth)
        yield from _binary(data, place)
        return
    yield from text_pieces(text, place, depth)


def _deflated(data: bytes, place: str, depth: int) -> Iterator[Piece]:
    if data[:1] == b"\x78":
        try:
            inside = zlib.decompressobj().decompress(data, MAX_BYTES)
        except zlib.error:
            return
        yield from pieces(inside, place=place, depth=depth + 1)


def _binary(data: bytes, place: str) -> Iterator[Piece]:
    """Give the letters that can be read in what nobody knows how to open."""
    found = [run.decode("utf-8", "replace") for run in _READABLE.findall(data)]
    found += [run.decode("utf-16-le") for run in _READABLE_WIDE.findall(data)]
    if found:
        yield Piece(place, "text", "\n".join(found))


def text_pieces(text: str, place: str = "", depth: int = 0) -> Iterator[Piece]:
    """Read a text by what it looks like."""
    from kit.publish.leaks import read_markup, read_music  # noqa: PLC0415 - circle

    start = text[:2000].lstrip()
    if start[:1] in ("{", "["):
        data = read_markup.parsed_json(text)
        if data is not None:
            yield from read_markup.json_pieces(data, place, depth)
            return
    if start.startswith("<") or _HTML.search(text):
        if "<score-partwise" in start or "<score-timewise" in start:
            yield from read_music.musicxml(text, place, depth)
        else:
            yield from read_markup.html_pieces(text, place, depth)
        return
    rest = yield from wrapped(text, place, depth)
    yield from plain_pieces(rest, place)


def plain_pieces(text: str, place: str) -> Iterator[Piece]:
    """Give a text without markup, and the music that stands in it in words or as ABC."""
    from kit.publish.leaks import read_music  # noqa: PLC0415 - circle

    if not text.strip():
        return
    yield Piece(place, "text", text)
    yield from read_music.in_words(text, place)
    if "X:" in text and "K:" in text:
        for tune in _ABC.findall(text):
            yield from read_music.abc(tune, place)
    if "-->" in text:
        yield from read_music.cue_times(text, place)


def wrapped(
    text: str, place: str, depth: int, label: Callable[[str, int], str] | None = None
) -> Any:
    """Yield what stands in a text in base64, and return the text without it."""
    rest: list[str] = []
    end = 0
    for match in _BASE64.finditer(text):
        data = _unwrapped(match[0])
        if data is None:
            continue
        rest += [text[end : match.start()], " "]
        end = match.end()
        name = label(text, match.start()) if label else "data in base64"
        yield from pieces(data, place=_at(place, name), depth=depth + 1)
    return "".join([*rest, text[end:]])


def _unwrapped(text: str) -> bytes | None:
    """Undo base64; None where the result is nothing that we know."""
    plain = text.replace("\\n", "").replace("\n", "").replace("\r", "")
    plain = plain.replace("-", "+").replace("_", "/").rstrip("=")
    start = plain[: HEAD // 3 * 4]
    try:
        head = base64.b64decode(start + "=" * (-len(start) % 4))
    except (ValueError, binascii.Error):
        return None
    if contents(head) is _text_or_binary and not _reads_well(head):
        return None
    try:
        return base64.b64decode(plain + "=" * (-len(plain) % 4))
    except (ValueError, binascii.Error):
        return None


def _reads_well(head: bytes) -> bool:
    if head[:1] == b"\x78" and head[1:2] in (b"\x01", b"\x5e", b"\x9c", b"\xda"):
        return True
    whole = head[: max(4, min(len(head) - 4, 48))]
    text = whole.decode("utf-8", "ignore")
    if len(text.encode()) < len(whole) - 3:
        return False
    return bool(text) and all(sign.isprintable() or sign in "\t\r\n" for sign in text)


def _decoded(data: bytes) -> str:
    return data.decode("utf-8", "replace")


def _at(place: str, inner: str) -> str:
    return f"{place}, {inner}" if place else inner
