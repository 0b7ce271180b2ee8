"""What numbers, pitches and chord symbols do MusicXML's elements hold?

Each function raises ``ValueError`` with what it cannot read; the reader of bars adds file
and bar. Numbers are read strictly, so that no text can stand for an absurd one.

Source: MusicXML 4.0 (W3C Community Group Final Report), ``divisions``, ``pitch``,
``harmony``.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING, Literal

from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.chord_text import parse_chord
from kit.tune.pitch import NoteName, Pitch
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = [
    "chord_of",
    "is_microtonal",
    "number",
    "pitch_of",
    "tuplet_ratio",
    "whole_number",
    "written_length",
]

_NUMBER = re.compile(r"[+-]?\d{1,9}(?:\.\d{0,9})?")
_LENGTHS = {
    "maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16),
    "128th": Fraction(1, 32), "256th": Fraction(1, 64), "512th": Fraction(1, 128),
    "1024th": Fraction(1, 256),
}  # fmt: skip
_MISNAMED = {"minor-major": "major-minor"}
"""A kind that a widespread library writes and the standard does not know."""
MAX_DOTS = 3


def number(text: str | None, what: str) -> Fraction:
    """Read a decimal number exactly.

    Raises
    ------
    ValueError
        If it is missing or not a plain number.
    """
    trimmed = (text or "").strip()
    if not _NUMBER.fullmatch(trimmed):
        raise ValueError(f'the {what} is "{printable(trimmed, 20)}", not a number')
    return Fraction(trimmed)


def whole_number(text: str | None, what: str, low: int, high: int) -> int:
    """Read a whole number within limits.

    Raises
    ------
    ValueError
        If it is missing, not whole or outside the limits.
    """
    value = number(text, what)
    if value.denominator != 1 or not low <= value <= high:
        raise ValueError(
            f"the {what} is {float(value):g}, not a whole number {low} to {high}"
        )
    return int(value)


def written_length(note: Element) -> Fraction | None:
    """Give the length that the note's symbol, dots and tuplet say, in quarter notes."""
    plain = _LENGTHS.get((note.findtext("type") or "").strip())
    dots = len(note.findall("dot"))
    if plain is None or dots > MAX_DOTS:
        return None
    # Each dot adds half of what the one before it added.
    length = plain * (2 - Fraction(1, 2**dots))
    tuplet = tuplet_ratio(note)
    return length * tuplet[1] / tuplet[0] if tuplet else length


def tuplet_ratio(note: Element) -> tuple[int, int] | None:
    """Give (notes played, in the time of), None outside tuplets."""
    change = note.find("time-modification")
    if change is None:
        return None
    played = whole_number(change.findtext("actual-notes"), "tuplet", 1, 64)
    time = whole_number(change.findtext("normal-notes"), "tuplet", 1, 64)
    return (played, time) if played != time else None


def pitch_of(element: Element) -> Pitch:
    """Read a ``pitch`` element; a part of a semitone is rounded towards the letter.

    Raises
    ------
    ValueError
        If it is not a pitch.
    """
    step = (element.findtext("step") or "").strip()
    if step not in tuple("ABCDEFG"):
        raise ValueError(f'a note has the letter "{printable(step, 10)}"')
    octave = whole_number(element.findtext("octave"), "octave of a note", -1, 10)
    alter = number(element.findtext("alter") or "0", "alteration of a note")
    return Pitch(step, int(alter), octave)


def is_microtonal(element: Element) -> bool:
    """Say whether a ``pitch`` element is altered by a part of a semitone."""
    return number(element.findtext("alter") or "0", "alteration of a note") % 1 != 0


def _name_of(element: Element, part: str) -> NoteName:
    step = (element.findtext(f"{part}-step") or "").strip()
    if step not in tuple("ABCDEFG"):
        raise ValueError(f'a chord symbol has the {part} "{printable(step, 10)}"')
    alter = whole_number(
        element.findtext(f"{part}-alter") or "0", f"alteration of a chord's {part}", -2, 2
    )
    return NoteName(step, alter)


def chord_of(harmony: Element) -> ChordSymbol | None:
    """Read a ``harmony`` element; None for a function or numeral without a root.

    Raises
    ------
    ValueError
        If its root, kind, degrees or bass cannot be read.
    """
    kind_element = harmony.find("kind")
    kind = (kind_element.text or "").strip() if kind_element is not None else ""
    text = printable(kind_element.get("text"), 40) if kind_element is not None else ""
    if kind == "none":
        return ChordSymbol(None, "none")
    root_element = harmony.find("root")
    if root_element is None:
        return None
    root = _name_of(root_element, "root")
    bass_element = harmony.find("bass")
    bass = _name_of(bass_element, "bass") if bass_element is not None else None
    kind = _MISNAMED.get(kind, kind)
    if not kind and text:
        kind = "other"  # some programs give the printed text alone
    if kind not in KINDS:
        raise ValueError(f'a chord symbol has the unknown kind "{printable(kind, 40)}"')
    degrees = tuple(_degree(element) for element in harmony.findall("degree"))
    if kind == "other" and text and not degrees:
        return _worded(root, text, bass)
    return ChordSymbol(root, kind, degrees, bass, text if kind == "other" else "")


def _worded(root: NoteName, text: str, bass: NoteName | None) -> ChordSymbol:
    """Understand a chord that the file only prints, if its print can be read."""
    try:
        read = parse_chord(f"{root}{text}")
    except ValueError:
        return ChordSymbol(root, "other", (), bass, text)
    return ChordSymbol(read.root, read.kind, read.degrees, bass or read.bass)


def _degree(element: Element) -> Degree:
    value = whole_number(element.findtext("degree-value"), "degree of a chord", 1, 15)
    alter = whole_number(
        element.findtext("degree-alter") or "0", "alteration of a chord's degree", -2, 2
    )
    change = (element.findtext("degree-type") or "add").strip()
    changes: dict[str, Literal["add", "alter", "subtract"]] = {
        "add": "add", "alter": "alter", "subtract": "subtract",
    }  # fmt: skip
    if change not in changes:
        raise ValueError(f'a chord symbol has the degree type "{printable(change, 20)}"')
    return Degree(value, alter, changes[change])
