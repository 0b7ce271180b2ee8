"""Shapes that are drawn here: jazz articulations, and the note of a tempo mark.

Lengths are in units of the drawing: a staff space is 180, a quarter's head about 215 wide.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from kit.engrave._svg_text import METRONOME_NOTES

__all__ = ["CURVES", "add_curve", "draw_tempo_note"]

# From the middle of the note head's left edge; common practice of jazz notation.
CURVES = {
    "falloff": "m 290 30 c 130 10 240 130 280 310",
    "doit": "m 290 -20 c 130 0 230 -70 280 -200",
    "scoop": "m -310 240 c 140 0 230 -80 260 -200",
    "plop": "m -300 -340 c 20 170 110 270 250 300",
}
"""Articulations, by their MusicXML names, as curves."""

_PLACE = re.compile(r"translate\((-?[\d.]+),\s*(-?[\d.]+)\)")
_ACCIDENTAL_WIDTH = 190
_DOT_WIDTH = 150
_EM = 405
# Rough widths of bold Times letters in ems, enough to set a note behind a word.
_NARROW, _WIDE = "fijlrt.,:;'!|()[] -", "mwMWQ@"


def add_curve(note: ET.Element, kind: str) -> None:
    """Draw one of `CURVES` at a note's head, clear of its accidental and dots."""
    head = note.find("g[@class='notehead']/use")
    if head is None:
        head = next((use for use in note.iter("use")), None)
    place = _PLACE.search(head.get("transform", "")) if head is not None else None
    if place is None:
        return
    x, y = float(place[1]), float(place[2])
    if kind in ("scoop", "plop"):
        x -= _ACCIDENTAL_WIDTH if _has_accidental(note, x) else 0
    else:
        x += _DOT_WIDTH * sum(1 for _ in note.iter("ellipse"))
    ET.SubElement(
        note,
        "path",
        {
            "d": f"M {x:g} {y:g} {CURVES[kind]}",
            "fill": "none",
            "stroke": "currentColor",
            "stroke-width": "38",
            "stroke-linecap": "round",
        },
    )


def _has_accidental(note: ET.Element, head_x: float) -> bool:
    return any(
        float(place[1]) < head_x - 60
        for use in note.iter("use")
        if (place := _PLACE.search(use.get("transform", "")))
    )


def draw_tempo_note(tempo: ET.Element) -> float | None:
    """Set the words, the note and the figure of a tempo mark side by side.

    Gives the place behind them, None where there is no text.
    """
    text = tempo.find("text")
    if text is None:
        return None
    pieces = [
        ("".join(piece.itertext()), piece) for piece in text.findall("tspan") or [text]
    ]
    marks = [sign for content, _ in pieces for sign in content if sign in METRONOME_NOTES]
    if not marks:
        return float(text.get("x", "0")) + _width("".join(text.itertext()))
    x, y = float(text.get("x", "0")), float(text.get("y", "0"))
    words, _, figure = _split("".join(content for content, _ in pieces))
    for element in list(tempo):
        tempo.remove(element)
    if words:
        _write(tempo, words, x, y, "bold")
        x += _width(words) + 0.75 * _EM
    names = [METRONOME_NOTES[sign] for sign in marks]
    x = _draw_note(tempo, names, x, y)
    _write(tempo, figure, x, y, "normal")
    tempo.attrib.pop("font-weight", None)
    return x + _width(figure)


def _split(content: str) -> tuple[str, str, str]:
    first = min(content.index(sign) for sign in METRONOME_NOTES if sign in content)
    last = max(content.rindex(sign) for sign in METRONOME_NOTES if sign in content)
    return content[:first].strip(), content[first : last + 1], content[last + 1 :].strip()


def _write(parent: ET.Element, content: str, x: float, y: float, weight: str) -> None:
    text = ET.SubElement(
        parent,
        "text",
        {"x": f"{x:g}", "y": f"{y:g}", "font-size": f"{_EM}px", "font-weight": weight},
    )
    text.text = content


def _width(words: str) -> float:
    ems = 0.0
    for sign in words:
        if sign in _NARROW:
            ems += 0.3
        elif sign in _WIDE:
            ems += 0.85
        else:
            ems += 0.7 if sign.isupper() else 0.52
    return ems * _EM


def _draw_note(parent: ET.Element, names: list[str], x: float, y: float) -> float:
    """Draw a small note with its foot on the text's line; give the place behind it."""
    hollow = names[0] in ("half", "whole")
    cx, cy = x + 88, y - 62
    head = {
        "cx": f"{cx:g}",
        "cy": f"{cy:g}",
        "rx": "80" if hollow else "92",
        "ry": "46" if hollow else "62",
        "transform": f"rotate(-24 {cx:g} {cy:g})",
    }
    if hollow:
        head |= {"fill": "none", "stroke": "currentColor", "stroke-width": "30"}
    ET.SubElement(parent, "ellipse", head)
    if names[0] != "whole":
        path = f"M {cx + 76:g} {cy - 24:g} V {cy - 400:g}"
        if names[0] == "eighth":
            path += " c 20 120 150 130 100 290"
        stem = {"d": path, "fill": "none", "stroke": "currentColor", "stroke-width": "24"}
        ET.SubElement(parent, "path", stem)
    x += 215 + (90 if names[0] == "eighth" else 0)
    if "dot" in names:
        dot = {"cx": f"{x + 30:g}", "cy": f"{cy:g}", "r": "27"}
        ET.SubElement(parent, "circle", dot)
        x += 90
    return x + 70
