"""What does each decoration of ABC mean on a lead sheet?

Source: ABC standard 2.1, section 4.14 (decorations; the one-letter forms are its
suggested meanings). Mark names are MusicXML's.
"""

from __future__ import annotations

from kit.tune.marks import marks
from kit.tune.model import Jump, SpanKind

__all__ = ["JUMPS", "MARKS", "SHORT_FORMS", "SPANS"]

MARKS: dict[str, str] = {abc: mark.name for mark in marks().values() for abc in mark.abc}
"""Decoration to mark of a note."""

JUMPS: dict[str, Jump] = {
    "segno": "segno", "coda": "coda", "fine": "fine", "dacoda": "to coda",
    "d.c.": "D.C.", "d.s.": "D.S.", "dacapo": "D.C.", "dalsegno": "D.S.",
    "d.c.alfine": "D.C. al fine", "d.c.alcoda": "D.C. al coda",
    "d.s.alfine": "D.S. al fine", "d.s.alcoda": "D.S. al coda",
}  # fmt: skip
"""Decoration, in small letters without spaces, to sign or instruction."""

SHORT_FORMS: dict[str, str] = {
    ".": "staccato", "~": "roll", "H": "fermata", "L": "accent", "M": "lowermordent",
    "O": "coda", "P": "uppermordent", "S": "segno", "T": "trill", "u": "upbow",
    "v": "downbow",
}  # fmt: skip
"""One-letter form to decoration; ``U:`` fields change it for a tune."""

SPANS: dict[str, tuple[SpanKind, bool]] = {
    "crescendo(": ("crescendo", True), "<(": ("crescendo", True),
    "crescendo)": ("crescendo", False), "<)": ("crescendo", False),
    "diminuendo(": ("diminuendo", True), ">(": ("diminuendo", True),
    "diminuendo)": ("diminuendo", False), ">)": ("diminuendo", False),
    "8va(": ("8va", True), "8va)": ("8va", False),
    "8vb(": ("8vb", True), "8vb)": ("8vb", False),
    "15ma(": ("15ma", True), "15ma)": ("15ma", False),
    "15mb(": ("15mb", True), "15mb)": ("15mb", False),
}  # fmt: skip
"""Decoration to the kind of a line and whether it opens (octave signs: common practice)."""
