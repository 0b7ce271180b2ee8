"""Which lines over several notes does a MusicXML part hold: hairpins and octave signs?

Conventions
-----------
* An octave sign is named by what is printed: ``8va`` above notes that are shown an octave
  lower than they sound. MusicXML gives the pitch that sounds and says which way the *page*
  departs from it, so its ``down`` is 8va.
* An optional octave is a text and a dashed line, because nothing about the written notes
  changes and no playing program should move them.
* A line whose other end is missing is left out.

Source: MusicXML 4.0 (W3C Community Group Final Report, 2021), ``wedge``, ``octave-shift``,
``dashes``.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET

from kit.tune._notices import Notices
from kit.tune.model import SpanEnd, SpanKind
from kit.tune.musicxml._write_notes import child

__all__ = [
    "OPTIONAL_OCTAVES",
    "SPAN_ELEMENTS",
    "SpanReader",
    "write_span_end",
]

SPAN_ELEMENTS = frozenset({"wedge", "octave-shift", "dashes"})
OPTIONAL_OCTAVES: dict[str, SpanKind] = {
    "8va ad lib.": "optional 8va",
    "8vb ad lib.": "optional 8vb",
}
"""What is printed above or below notes that may be played an octave from where they are."""

_SHIFTS: dict[tuple[str, str], SpanKind] = {
    ("down", "8"): "8va",
    ("up", "8"): "8vb",
    ("down", "15"): "15ma",
    ("up", "15"): "15mb",
}
_SHIFT_OF = {kind: way for way, kind in _SHIFTS.items()}
_TEXT_OF = {kind: text for text, kind in OPTIONAL_OCTAVES.items()}
_BELOW = frozenset({"crescendo", "diminuendo", "8vb", "15mb", "optional 8vb"})
_NUMBERS: dict[SpanKind, str] = {
    "crescendo": "1", "diminuendo": "2", "8va": "1", "8vb": "2", "15ma": "3", "15mb": "4",
    "optional 8va": "1", "optional 8vb": "2",
}  # fmt: skip
_NAMES = {"wedge": "a hairpin", "octave-shift": "an octave sign", "dashes": "a dashed line"}


class SpanReader:
    """Remembers which lines are open, by their element and number."""

    def __init__(self, notices: Notices) -> None:
        self._notices = notices
        self._open: dict[tuple[str, str], SpanKind] = {}

    def read(self, element: ET.Element, words: str) -> tuple[SpanKind, bool] | None:
        """Give the kind of a line and whether it opens, None for what is not kept.

        Parameters
        ----------
        element : Element
            Of one of `SPAN_ELEMENTS`.
        words : str
            What its direction prints besides.
        """
        tag, way = str(element.tag), element.get("type", "")
        name = (tag, element.get("number", "1"))
        if way == "continue":
            return None
        if way == "stop":
            kind = self._open.pop(name, None)
            return None if kind is None else (kind, False)
        found = _kind_of(tag, way, element, words)
        if found is None:
            self._notices.left_out(_NAMES[tag])
            return None
        self._open[name] = found
        return found, True


def _kind_of(tag: str, way: str, element: ET.Element, words: str) -> SpanKind | None:
    if tag == "wedge":
        kinds: dict[str, SpanKind] = {"crescendo": "crescendo", "diminuendo": "diminuendo"}
        return kinds.get(way)
    if tag == "octave-shift":
        return _SHIFTS.get((way, element.get("size", "8")))
    return OPTIONAL_OCTAVES.get(words)


def write_span_end(measure: ET.Element, end: SpanEnd) -> ET.Element:
    """Add the direction of one end of a line, and give it."""
    placement = "below" if end.kind in _BELOW else "above"
    direction = child(measure, "direction", placement=placement)
    number = _NUMBERS[end.kind]
    if end.kind in _SHIFT_OF:
        way, size = _SHIFT_OF[end.kind]
        mark = child(direction, "direction-type")
        kind = way if end.opens else "stop"
        child(mark, "octave-shift", type=kind, size=size, number=number)
    elif end.kind in _TEXT_OF:
        if end.opens:
            mark = child(direction, "direction-type")
            child(mark, "words", {"font-style": "italic"}, text=_TEXT_OF[end.kind])
        mark = child(direction, "direction-type")
        child(mark, "dashes", type="start" if end.opens else "stop", number=number)
    else:
        mark = child(direction, "direction-type")
        child(mark, "wedge", type=end.kind if end.opens else "stop", number=number)
    return direction
