"""How are notes and bars marked in a drawing that is finished already?

A note gets a ring around its head; a bar gets a small triangle with the bar's number under
its left bar line. Both are told by shape and by words, and by colour only besides.

Lengths are in units of the drawing: a staff space is 180.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping

__all__ = ["INK", "apart", "marked"]

INK = "#a33c00"
"""Dark orange, 6.4 : 1 on white (WCAG 2.2 asks for 4.5)."""

_HEAD_MIDDLE = 108
_RING = (235, 205)
_BELOW_STAFF = 110
_MARK_HEIGHT = 300
_BEHIND_CLEF = 640
_NOTE = re.compile(r'<g data-id="(b\d+n\d+)" class="note">')
_BAR = re.compile(
    r'<g data-id="(b\d+)" class="measure">(?:<text [^>]*>[^<]*</text>)?<g class="staff">'
    r'(?:<path d="M(-?[\d.]+) (-?[\d.]+) [^>]*>)'
    r'(?:<path d="M-?[\d.]+ -?[\d.]+ [^>]*>){3}'
    r'<path d="M-?[\d.]+ (-?[\d.]+) [^>]*>'
)
_HEAD = re.compile(r'<use href="[^"]*" transform="translate\((-?[\d.]+), (-?[\d.]+)\)')
_SHAPE = re.compile(r'(?: id="|href="#)E[0-9A-F]+-[0-9a-f]+"')
_SIZE = re.compile(r'viewBox="0 0 ([\d.]+) ([\d.]+)" width="([\d.]+)" height="([\d.]+)"')
_MARGIN = re.compile(
    r'<g[^>]* transform="translate\((-?[\d.]+), (-?[\d.]+)\)"><g class="system"'
)


def marked(svg: str, *, notes: Collection[str], bars: Mapping[str, int]) -> str:
    """Ring notes and number bars.

    Parameters
    ----------
    svg : str
        A finished drawing (`kit.engrave`).
    notes : collection of str
        Ids of notes to ring; those that are not in the drawing are passed over.
    bars : mapping
        Id of each bar to mark, and the number to print.
    """
    svg = _NOTE.sub(lambda found: found[0] + _ring(svg, found, notes), svg)
    lowest = 0.0

    def flag(found: re.Match[str]) -> str:
        nonlocal lowest
        if found[1] not in bars:
            return found[0]
        x, bottom = float(found[2]), float(found[4])
        # At the head of a line the clef is in the way.
        x += _BEHIND_CLEF if x == 0 else 0.0
        lowest = max(lowest, bottom + _BELOW_STAFF + _MARK_HEIGHT)
        head, staff, rest = found[0].partition('<g class="staff">')
        return f"{head}{_flag(x, bottom, bars[found[1]])}{staff}{rest}"

    svg = _BAR.sub(flag, svg)
    return _tall_enough(svg, lowest)


def apart(svg: str, name: str) -> str:
    """Give the shapes in a drawing other names, so that it can stand twice on a page."""
    return _SHAPE.sub(lambda found: f'{found[0][:-1]}-{name}"', svg)


def _ring(svg: str, found: re.Match[str], notes: Collection[str]) -> str:
    if found[1] not in notes:
        return ""
    head = _HEAD.search(svg, found.end())
    if head is None:
        return ""
    x, y = float(head[1]) + _HEAD_MIDDLE, float(head[2])
    return (
        f'<ellipse class="lk-ring" cx="{x:g}" cy="{y:g}" rx="{_RING[0]}" ry="{_RING[1]}" '
        f'fill="none" stroke="{INK}" stroke-width="34" />'
    )


def _flag(x: float, bottom: float, number: int) -> str:
    top = bottom + _BELOW_STAFF
    return (
        f'<g class="lk-flag" fill="{INK}"><path d="M {x:g} {top:g} l 110 190 h -220 z" />'
        f'<text x="{x + 140:g}" y="{top + 200:g}" font-size="300px" font-weight="bold">'
        f"{number}</text></g>"
    )


def _tall_enough(svg: str, lowest: float) -> str:
    """Make the drawing higher where a mark would leave it at the bottom."""
    size, margin = _SIZE.search(svg), _MARGIN.search(svg)
    if size is None:
        return svg
    width, height, width_px, height_px = (float(size[k]) for k in (1, 2, 3, 4))
    needed = lowest + (float(margin[2]) if margin else 0.0)
    if needed <= height:
        return svg
    new_px = height_px * needed / height
    new = f'viewBox="0 0 {width:g} {needed:g}" width="{width_px:g}" height="{new_px:.0f}"'
    return svg.replace(size[0], new, 1)
