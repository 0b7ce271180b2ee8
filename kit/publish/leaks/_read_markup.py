"""What stands in HTML, SVG, XML and JSON, apart from the markup itself?

Each kind of place is a piece of its own: what is read, attributes, comments, scripts and
styles. Words that markup cuts (``<b>mem</b>bers``) are whole again.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from typing import Any

from kit.publish.leaks._melody import Mark
from kit.publish.leaks._piece import Found, Inside, Piece, Plain, within
from kit.reading import UnusableError, json_of

__all__ = ["element_of", "html_pieces", "json_pieces", "parsed_json"]

_COMMENT = re.compile(r"<!--(.*?)(?:-->|\Z)", re.DOTALL)
_SCRIPT = re.compile(r"<script\b([^>]*)>(.*?)</script\s*>", re.DOTALL | re.IGNORECASE)
_STYLE = re.compile(r"<style\b[^>]*>(.*?)</style\s*>", re.DOTALL | re.IGNORECASE)
_TITLE = re.compile(r"<title\b[^>]*>(.*?)</title\s*>", re.DOTALL | re.IGNORECASE)
_CDATA = re.compile(r"<!\[CDATA\[(.*?)\]\]>", re.DOTALL)
_ATTRIBUTE = re.compile(r"""([\w:.-]+)\s*=\s*(?:"([^"<>]*)"|'([^'<>]*)')""")
_DRAWING = frozenset(
    {
        "d", "transform", "points", "viewBox", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy",
        "r", "rx", "ry", "width", "height", "stroke", "fill", "stroke-width", "font-size",
        "text-anchor", "dx", "dy", "xmlns", "style",
    }
)  # fmt: skip
"""Attributes that say how something is drawn."""
_SAYS = re.compile(r"[^\W\d_]{2}")
_INLINE = re.compile(
    r"</?(?:a|abbr|b|cite|code|em|i|kbd|mark|q|s|samp|small|span|strong|sub|sup|u|var|wbr)"
    r"(?:\s[^<>]*)?/?>",
    re.IGNORECASE,
)
_TAG = re.compile(r"<[^<>]*>")
_OWNER = re.compile(r"<(\w+)\b([^<>]*)$")
_NAMED = re.compile(r'data-(?:pack|audio)="([^"]*)"')
_DRAWN = re.compile(
    r'<path d="M[\d.]+ (?P<line>[\d.]+) L[\d.]+ (?P=line)" stroke-width="13"'
    r'|data-id="b(?P<bar>\d+)n\d+" class="note">.{0,60}?<use href="#E0A(?P<head>\w)'
    r'[^"]*" transform="translate\([\d.]+, (?P<y>[\d.]+)\)',
    re.DOTALL,
)
_HALF_SPACE = 90.0
"""Between a line of the staff and the space beside it, in the units of our drawings."""


def html_pieces(source: str, place: str) -> Iterator[Found]:
    """Read HTML, SVG or XML, data in base64 taken out before."""
    for kind, pattern in (("comment", _COMMENT), ("style", _STYLE)):
        for inside in pattern.findall(source):
            yield Plain(within(place, kind), inside)
    for attributes, inside in _SCRIPT.findall(source):
        yield from _attributes(attributes, within(place, "script"))
        data = parsed_json(inside)
        if data is None:
            yield Plain(within(place, "script"), inside)
        else:
            yield from json_pieces(data, within(place, "script data"))
    shown = _SCRIPT.sub(" ", _STYLE.sub(" ", _COMMENT.sub(" ", source)))
    for title in _TITLE.findall(shown):
        yield Plain(within(place, "title"), html.unescape(title))
    yield from _attributes(shown, place)
    shown = _CDATA.sub(lambda match: html.escape(match[1]), shown)
    text = _TAG.sub(" ", _INLINE.sub("", shown))
    yield Plain(within(place, "text"), html.unescape(text))
    if 'class="note"' in source:
        yield from _drawn(source, place)


def _attributes(source: str, place: str) -> Iterator[Found]:
    found: dict[str, dict[str, None]] = {}
    for name, double, single in _ATTRIBUTE.findall(source):
        value = double or single
        if value and name not in _DRAWING and _SAYS.search(value):
            found.setdefault(name, {})[html.unescape(value)] = None
    for name, values in found.items():
        yield Plain(within(place, f"attribute {name}"), "\n".join(values))


def element_of(source: str, start: int) -> str:
    """Name data in base64 by the element that holds it."""
    before = source[max(0, start - 400) : start].rstrip("> \n")
    named = list(_NAMED.finditer(before))
    if named:
        what = "sound" if "audio" in named[-1][0] else "pack"
        return f"{what} {named[-1][1]}"
    owner = _OWNER.search(before)
    return f"data in <{owner[1]}>" if owner else "data in base64"


def _drawn(source: str, place: str) -> Iterator[Found]:
    """Read the notes of our own drawings by their height above the staff's lowest line."""
    marks: list[Mark] = []
    lines: list[float] = []
    fresh = True
    for match in _DRAWN.finditer(source):
        if match["line"]:
            lines = [*([] if fresh else lines), float(match["line"])]
            fresh = False
            continue
        fresh = True
        if lines:
            height = round((max(lines) - float(match["y"])) / _HALF_SPACE)
            head = int(match["head"]) if match["head"] in "234" else 4
            marks.append((height, head, int(match["bar"])))
    if marks:
        yield Piece(within(place, "drawn music"), "drawn", marks)


def parsed_json(text: str) -> Any | None:
    """Parse JSON; None if it is none."""
    try:
        data = json_of(text)
    except UnusableError:
        return None
    return data if isinstance(data, dict | list) else None


def json_pieces(data: Any, place: str) -> Iterator[Found]:
    """Read what JSON holds: texts under their keys, and all numbers in a row."""
    texts: dict[str, list[str]] = {}
    numbers: list[float] = []
    _walk(data, "", texts, numbers)
    for key, found in texts.items():
        yield Inside(within(place, key) if key else place, "\n".join(found))
    if numbers:
        yield Piece(place, "numbers", numbers)


def _walk(data: Any, key: str, texts: dict[str, list[str]], numbers: list[float]) -> None:
    if isinstance(data, str):
        texts.setdefault(key, []).append(data)
    elif isinstance(data, bool) or data is None:
        return
    elif isinstance(data, int | float):
        numbers.append(float(data))
    elif isinstance(data, list):
        for one in data:
            _walk(one, key, texts, numbers)
    else:
        for name, one in data.items():
            if " " in name:
                texts.setdefault(key, []).append(name)
            _walk(one, f"{key} {name}".strip(), texts, numbers)
