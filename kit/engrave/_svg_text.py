"""The texts of a drawing without a music font.

Verovio writes ``B♭13`` as three pieces, the flat in its music font as a sign of the private
use area. Here neighbouring pieces of one look become one, with real signs, so that text
can be copied, searched and read aloud.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator

__all__ = ["METRONOME_NOTES", "rewrite_text"]

# SMuFL code points as Verovio uses them in text.
_SIGNS = {
    "\uea64": "♭",
    "\uea65": "♮",
    "\uea66": "♯",
    "\ue260": "♭",
    "\ue261": "♮",
    "\ue262": "♯",
    # What Verovio draws for an underscore in a syllable: it takes it for an elision.
    "\ue551": "_",
    "\U0001d12b": "♭♭",
    "\U0001d12a": "♯♯",
}
METRONOME_NOTES = {
    "\ueca2": "whole",
    "\ueca3": "half",
    "\ueca5": "quarter",
    "\ueca7": "eighth",
    "\uecb7": "dot",
}
"""SMuFL's notes for metronome marks, by the name of their value."""

_LOOK = ("font-size", "font-weight", "font-style")
_PLACE = ("x", "y", "text-anchor")


def rewrite_text(text: ET.Element) -> None:
    """Make a ``text`` element of plain pieces, one per look."""
    pieces: list[tuple[str, dict[str, str]]] = []
    plain_size = "405px"
    for content, look in _pieces(text, {}):
        signs = "".join(_SIGNS.get(sign, sign) for sign in content)
        if signs != content or content[:1] in METRONOME_NOTES:
            look["font-size"] = plain_size
        else:
            plain_size = look.get("font-size", plain_size)
        if pieces and pieces[-1][1] == look:
            pieces[-1] = (pieces[-1][0] + signs, look)
        else:
            pieces.append((signs, look))
    for child in list(text):
        text.remove(child)
    text.text = None
    for name in set(text.attrib) - set(_PLACE):
        del text.attrib[name]
    if len(pieces) == 1:
        text.text = pieces[0][0]
        text.attrib.update(pieces[0][1])
        return
    for content, look in pieces:
        piece = ET.SubElement(text, "tspan", look)
        piece.text = content


def _pieces(
    element: ET.Element, inherited: dict[str, str]
) -> Iterator[tuple[str, dict[str, str]]]:
    look = {**inherited, **{n: element.attrib[n] for n in _LOOK if n in element.attrib}}
    if element.text:
        yield element.text, dict(look)
    for child in element:
        yield from _pieces(child, look)
