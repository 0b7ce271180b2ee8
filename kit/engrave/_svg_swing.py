"""The sign for swung eighths: two eighths equal a quarter and an eighth under a triplet.

Lengths are in units of the drawing, as in `svg_shapes`. Source: common practice of jazz
lead sheets.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

__all__ = ["draw_swing_sign", "is_swung"]

_SWUNG = re.compile(r"\b(swing|swung|shuffle)", re.IGNORECASE)
_STRAIGHT = re.compile(r"\bstraight|\beven\b", re.IGNORECASE)

_HEAD_RX, _HEAD_RY = 70, 46
_STEM = 280
_APART = 240
_TEXT_SIZE = 405


def is_swung(feel: str) -> bool:
    """Say whether a feel asks for swung eighths.

    Examples
    --------
    >>> is_swung("Medium swing"), is_swung("Bossa"), is_swung("Swing, straight eighths")
    (True, False, False)
    """
    return bool(_SWUNG.search(feel)) and not _STRAIGHT.search(feel)


def draw_swing_sign(parent: ET.Element, x: float, y: float) -> None:
    """Draw the sign, in parentheses, with its foot on a text's line from x on."""
    group = ET.SubElement(
        parent, "g", {"class": "swing", "role": "img", "aria-label": "swung eighths"}
    )
    _text(group, "(", x, y, _TEXT_SIZE)
    x += 190
    _pair(group, x, y)
    x += _APART + 270
    _text(group, "=", x, y, _TEXT_SIZE)
    x += 330
    _note(group, x, y, flag=False)
    _note(group, x + _APART, y, flag=True)
    _bracket(group, x - 10, x + _APART + 170, y)
    x += _APART + 300
    _text(group, ")", x, y, _TEXT_SIZE)


def _pair(group: ET.Element, x: float, y: float) -> None:
    """Draw two eighths under one beam."""
    _note(group, x, y, flag=False)
    _note(group, x + _APART, y, flag=False)
    left, right = _stem_x(x) - 12, _stem_x(x + _APART) + 12
    top = _top(y)
    outline = (
        f"{left:g},{top:g} {right:g},{top:g} {right:g},{top + 70:g} {left:g},{top + 70:g}"
    )
    ET.SubElement(group, "polygon", {"points": outline})


def _note(group: ET.Element, x: float, y: float, *, flag: bool) -> None:
    cx, cy = x + _HEAD_RX, y - _HEAD_RY
    ET.SubElement(
        group,
        "ellipse",
        {
            "cx": f"{cx:g}",
            "cy": f"{cy:g}",
            "rx": f"{_HEAD_RX}",
            "ry": f"{_HEAD_RY}",
            "transform": f"rotate(-24 {cx:g} {cy:g})",
        },
    )
    path = f"M {_stem_x(x):g} {cy - 16:g} V {_top(y):g}"
    if flag:
        path += " c 14 90 110 100 76 210"
    ET.SubElement(
        group,
        "path",
        {"d": path, "fill": "none", "stroke": "currentColor", "stroke-width": "22"},
    )


def _bracket(group: ET.Element, left: float, right: float, y: float) -> None:
    """Draw a bracket with a 3 in its middle."""
    line, middle, gap = _top(y) - 62, (left + right) / 2, 62
    path = (
        f"M {left:g} {line + 42:g} V {line:g} H {middle - gap:g} "
        f"M {middle + gap:g} {line:g} H {right:g} V {line + 42:g}"
    )
    ET.SubElement(
        group,
        "path",
        {"d": path, "fill": "none", "stroke": "currentColor", "stroke-width": "16"},
    )
    digit = _text(group, "3", middle, line + 62, 190)
    digit.set("text-anchor", "middle")
    digit.set("font-style", "italic")


def _text(group: ET.Element, content: str, x: float, y: float, size: int) -> ET.Element:
    place = {"x": f"{x:g}", "y": f"{y:g}", "font-size": f"{size}px"}
    text = ET.SubElement(group, "text", place)
    text.text = content
    return text


def _stem_x(x: float) -> float:
    return x + 2 * _HEAD_RX - 12


def _top(y: float) -> float:
    return y - _HEAD_RY - _STEM
