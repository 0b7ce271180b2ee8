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
from collections.abc import Callable, Generator, Iterator

from kit.publish.leaks import _read_markup, _read_media, _read_music, _read_pdf
from kit.publish.leaks._piece import Found, Inside, Piece, Plain, within
from kit.publish.leaks._sound import sounds_like_frames

__all__ = ["contents", "pieces", "text_pieces"]

MAX_DEPTH = 8
MAX_BYTES = 500_000_000
HEAD = 2_000_000
"""Within so many bytes a piece cut out of an MP3 has two frames: its tag has a picture."""

_BASE64 = re.compile(
    r"[A-Za-z0-9+/]{40,}(?:(?:\\n|\r?\n)[A-Za-z0-9+/]{4,})*={0,2}|[A-Za-z0-9_-]{40,}={0,2}"
)
_READABLE = re.compile(rb"[\x20-\x7e\xc2-\xf4\x80-\xbf]{12,}")
_READABLE_WIDE = re.compile(rb"(?:[\x20-\x7e]\x00){12,}")
_ABC = re.compile(r"(?m)^X:\s*\d+.*\n(?:.*\n)*?K:.*\n(?:(?!X:)[^\n]+\n?)*")
_HTML = re.compile(r"<(?:!doctype html|html|svg|div|p|span|figure|ol|ul|section)\b", re.I)


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
    yield from _opened(contents(data)(data, place), depth)


def _opened(found: Iterator[Found], depth: int) -> Iterator[Piece]:
    for one in found:
        match one:
            case Piece():
                yield one
            case Plain(place, text):
                yield from _opened(_plain(text, place), depth)
            case Inside(place, str(text)):
                yield from text_pieces(text, place, depth + 1)
            case Inside(place, bytes(data)):
                yield from pieces(data, place=place, depth=depth + 1)


Reader = Callable[[bytes, str], Iterator[Found]]


def contents(data: bytes) -> Reader:
    """Choose the reader by the first bytes."""
    starts: tuple[tuple[bytes, Reader], ...] = (
        (b"PK\x03\x04", _zip),
        (b"\x1f\x8b", _gzip),
        (b"\x89PNG\r\n\x1a\n", _read_media.png),
        (b"\xff\xd8\xff", _read_media.jpeg),
        (b"GIF8", _read_media.picture),
        (b"ID3", _read_media.mp3),
        (b"\xff\xfb", _read_media.mp3),
        (b"\xff\xfa", _read_media.mp3),
        (b"fLaC", _read_media.flac),
        (b"RIFF", _read_media.riff),
        (b"MThd", _read_music.midi),
    )
    for start, reader in starts:
        if data.startswith(start):
            return reader
    if b"%PDF-" in data[:1024]:
        return _read_pdf.pdf
    if sounds_like_frames(data[:HEAD]):
        return _read_media.mp3
    return _text_or_binary


def _zip(data: bytes, place: str) -> Iterator[Found]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
    except zipfile.BadZipFile:
        yield from _binary(data, place)
        return
    with archive:
        yield Piece(within(place, "comment of the zip"), "text", _decoded(archive.comment))
        for entry in archive.infolist():
            where = within(place, entry.filename)
            yield Piece(within(place, "file names"), "text", entry.filename)
            yield Piece(within(where, "comment"), "text", _decoded(entry.comment))
            if entry.file_size <= MAX_BYTES and not entry.is_dir():
                yield Inside(where, archive.read(entry))


def _gzip(data: bytes, place: str) -> Iterator[Found]:
    try:
        with gzip.open(io.BytesIO(data)) as packed:
            inside = packed.read(MAX_BYTES)
    except (OSError, EOFError, zlib.error):
        return
    yield Inside(place, inside)


def _text_or_binary(data: bytes, place: str) -> Iterator[Found]:
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        yield from _deflated(data, place)
        yield from _binary(data, place)
        return
    yield Inside(place, text)


def _deflated(data: bytes, place: str) -> Iterator[Found]:
    if data[:1] == b"\x78":
        try:
            inside = zlib.decompressobj().decompress(data, MAX_BYTES)
        except zlib.error:
            return
        yield Inside(place, inside)


def _binary(data: bytes, place: str) -> Iterator[Found]:
    """Give the letters that can be read in what nobody knows how to open."""
    found = [run.decode("utf-8", "replace") for run in _READABLE.findall(data)]
    found += [run.decode("utf-16-le") for run in _READABLE_WIDE.findall(data)]
    if found:
        yield Piece(place, "text", "\n".join(found))


def text_pieces(text: str, place: str = "", depth: int = 0) -> Iterator[Piece]:
    """Read a text by what it looks like."""
    if depth <= MAX_DEPTH:
        yield from _opened(_in_text(text, place), depth)


def _in_text(text: str, place: str) -> Iterator[Found]:
    start = text[:2000].lstrip()
    if start[:1] in ("{", "["):
        data = _read_markup.parsed_json(text)
        if data is not None:
            yield from _read_markup.json_pieces(data, place)
            return
    if not (start.startswith("<") or _HTML.search(text)):
        rest = yield from _wrapped(text, place)
        yield Plain(place, rest)
        return
    if "<score-partwise" in start or "<score-timewise" in start:
        score = _read_music.parsed_musicxml(text)
        if score is not None:
            yield from _read_music.musicxml(score, text, place)
            return
    rest = yield from _wrapped(text, place, _read_markup.element_of)
    yield from _read_markup.html_pieces(rest, place)


def _plain(text: str, place: str) -> Iterator[Found]:
    if not text.strip():
        return
    yield Piece(place, "text", text)
    yield from _read_music.in_words(text, place)
    if "X:" in text and "K:" in text:
        for tune in _ABC.findall(text):
            yield from _read_music.abc(tune, place)
    if "-->" in text:
        yield from _read_music.cue_times(text, place)


def _wrapped(
    text: str, place: str, label: Callable[[str, int], str] | None = None
) -> Generator[Found, None, str]:
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
        yield Inside(within(place, name), data)
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
