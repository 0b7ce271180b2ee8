"""Verovio's SVG, made fit for a page of ours.

What changes, and why:

* Ids become ``data-id``, and the names of the glyph outlines get a mark of their own, so
  that many drawings can share one page.
* Text needs no music font: chord symbols get the real signs ♭ and ♯, and the note of a
  tempo mark is drawn.
* No style sheet inside: strokes and weights are attributes. Everything is drawn in the
  colour of the text around it.
* Falls, scoops, doits and plops, which Verovio does not draw, are added as curves.
"""

from __future__ import annotations

import hashlib
import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping
from dataclasses import dataclass

from kit.engrave._svg_shapes import add_curve, draw_tempo_note
from kit.engrave._svg_swing import draw_swing_sign
from kit.engrave._svg_text import rewrite_text

__all__ = ["TEXT_FONTS", "FinishedSvg", "finish"]

TEXT_FONTS = "Libertinus Serif, Times, Times New Roman, serif"
"""The first is Typst's own; Verovio spaces text by the measures of the second."""

_STROKED = {"path", "polygon", "polyline", "rect", "ellipse"}
_WEIGHTS = {
    "ending": ("font-weight", "bold"),
    "reh": ("font-weight", "bold"),
    "tempo": ("font-weight", "bold"),
    "dir": ("font-style", "italic"),
}
_KEPT_CLASSES = frozenset(
    {"system", "measure", "note", "rest", "mRest", "harm", "staff", "verse", "reh", "tempo"}
)

_DROPPED = frozenset({"placeholder", "pageMilestone", "mNum"})
_BEFORE_SWING = 160
_STAFF_LINE = re.compile(r"M(\S+) (\S+) L")

# Segno and coda stand over the bar line, clear of the first note and its chord.
_SIGN_SHIFT = "translate(-310 -30)"


@dataclass(frozen=True, slots=True)
class FinishedSvg:
    """A drawing's SVG with its size in Verovio's page units."""

    svg: str
    width: float
    height: float


def finish(
    svg: str,
    *,
    label: str,
    width_px_per_unit: float,
    curves: Mapping[str, tuple[str, ...]],
    chord_ids: Mapping[str, tuple[str, ...]],
    numbers: Mapping[str, str],
    swing: bool = False,
) -> FinishedSvg:
    """Make one drawing ready.

    Parameters
    ----------
    svg : str
        As Verovio gives it (``svgHtml5``, ``svgFormatRaw``, ``svgRemoveXlink``).
    label : str
        What it shows, in words, for those who do not see it.
    width_px_per_unit : float
        Natural size on a screen; it shrinks to a narrower place by itself.
    curves : mapping
        Note id to those of its marks that are drawn as curves.
    chord_ids : mapping
        Bar id to the ids of its chord symbols, in order.
    numbers : mapping
        Bar id to the number that is printed where a line begins with the bar.
    swing : bool
        Whether the first tempo mark gets the sign for swung eighths.
    """
    # From the content, so that a drawing has the same names on every build.
    mark = hashlib.sha256(svg.encode()).hexdigest()[:8]
    root = ET.fromstring(_without_namespaces(svg))  # noqa: S314 - Verovio's own output
    inner = root.find("svg")
    if inner is None:
        raise ValueError("this is not a drawing by Verovio")
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    out = ET.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "viewBox": inner.attrib["viewBox"],
            "width": f"{width * width_px_per_unit:.0f}",
            "height": f"{height * width_px_per_unit:.0f}",
            "style": "max-width:100%;height:auto",
            "class": "music",
            "role": "img",
            "aria-label": label,
            "font-family": TEXT_FONTS,
            "fill": "currentColor",
        },
    )
    definitions = root.find("defs")
    if definitions is not None:
        out.append(definitions)
    out.extend(inner)
    _rename_glyphs(out, root.attrib.get("id", ""), mark)
    for bar in list(out.iter("g")):
        if bar.get("class") == "measure":
            _name_chords(bar, chord_ids.get(bar.get("data-id", ""), ()))
    _tidy(out)
    for line in out.iterfind(".//g[@class='system']"):
        _number_line(line, numbers)
    for place, tempo in enumerate(out.iterfind(".//g[@class='tempo']")):
        end = draw_tempo_note(tempo)
        text = next(tempo.iter("text"), None)
        if swing and place == 0 and end is not None and text is not None:
            draw_swing_sign(tempo, end + _BEFORE_SWING, float(text.get("y", "0")))
    for note in out.iter("g"):
        for kind in curves.get(note.get("data-id", ""), ()):
            add_curve(note, kind)
    return FinishedSvg(ET.tostring(out, encoding="unicode"), width, height)


def _without_namespaces(svg: str) -> str:
    # With namespaces ElementTree would put a prefix before every tag.
    head, body = svg[:600], svg[600:]
    for name in ("http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"):
        head = head.replace(f'xmlns="{name}"', "", 1).replace(
            f'xmlns:xlink="{name}"', "", 1
        )
    return head + body


def _rename_glyphs(out: ET.Element, old: str, mark: str) -> None:
    for element in out.iter():
        for attribute in ("id", "href"):
            value = element.get(attribute)
            if value and value.endswith(f"-{old}"):
                element.set(attribute, f"{value.removesuffix(old)}{mark}")


def _number_line(line: ET.Element, numbers: Mapping[str, str]) -> None:
    """Print the number of a line's first bar left of its staff.

    Verovio prints none where a section letter stands.
    """
    bar = line.find("g[@class='measure']")
    top = bar.find("g[@class='staff']/path") if bar is not None else None
    place = _STAFF_LINE.match(top.get("d", "")) if top is not None else None
    if bar is None or place is None or not numbers.get(bar.get("data-id", "")):
        return
    text = ET.Element(
        "text",
        {
            "x": f"{float(place[1]) - 45:g}",
            "y": f"{float(place[2]) + 25:g}",
            "text-anchor": "end",
            "font-size": "315px",
            "font-style": "italic",
        },
    )
    text.text = numbers[bar.get("data-id", "")]
    bar.insert(0, text)


def _name_chords(bar: ET.Element, names: tuple[str, ...]) -> None:
    chords = [group for group in bar.iter("g") if group.get("class") == "harm"]
    for group, name in zip(chords, names, strict=False):
        group.set("data-id", name)


def _tidy(element: ET.Element) -> None:
    """Drop what is only Verovio's, give strokes and weights, rewrite texts."""
    for child in list(element):
        classes = child.get("class", "").split()
        if _DROPPED.intersection(classes):
            element.remove(child)
            continue
        _tidy_attributes(child, classes)
        if child.tag == "text":
            rewrite_text(child)
        else:
            _tidy(child)


def _tidy_attributes(element: ET.Element, classes: list[str]) -> None:
    element.attrib.pop("data-class", None)
    element.attrib.pop("{http://www.w3.org/XML/1998/namespace}lang", None)
    if classes:
        if classes[0] in _WEIGHTS:
            element.set(*_WEIGHTS[classes[0]])
        if classes[0] == "repeatMark":
            element.set("transform", _SIGN_SHIFT)
        if classes[0] in _KEPT_CLASSES:
            element.set("class", classes[0])
        else:
            del element.attrib["class"]
    if classes[:1] not in (["note"], ["rest"], ["mRest"], ["measure"], ["harm"]):
        element.attrib.pop("data-id", None)
    if element.tag in _STROKED and "stroke" not in element.attrib:
        element.set("stroke", "currentColor")
