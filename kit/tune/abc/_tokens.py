"""What signs does a line of ABC music consist of?

A line becomes a list of `Token`: a kind and the matched text's named parts. Nothing is
decided here about what a sign means.

Source: ABC standard 2.1, sections 4.1 to 4.20.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["NOTE", "Token", "length_factor", "tokens"]

_ACCIDENTAL = r"(?:\^\^|__|\^|_|=)"
_LENGTH = r"\d{0,4}(?:/+\d{0,4})?"
NOTE = re.compile(
    rf"(?P<accidental>{_ACCIDENTAL})?(?P<letter>[A-Ga-g])(?P<octave>[,']{{0,6}})"
    rf"(?P<length>{_LENGTH})"
)
_ENDING = r"\d{1,2}(?:[-,]\d{1,2}){0,8}"

_TOKEN = re.compile(
    rf"""
      (?P<space>[\s`]+)
    | (?P<field>\[(?P<field_letter>[A-Za-z]):(?P<field_value>[^\]\n]*)\])
    | (?P<ending>\[(?P<ending_list>{_ENDING}|"[^"\n]*"))
    | (?P<dotted_bar>\.\|)
    | (?P<bar>(?P<bar_sign>:*(?:\[?\|+\]?)+:*|:{{2,}})(?P<bar_ending>{_ENDING})?)
    | (?P<text>"(?P<text_value>[^"\n]*)")
    | (?P<decoration>!(?P<decoration_name>[A-Za-z0-9.()<>^+\- ]{{1,30}})!
        |\+(?P<old_decoration>[A-Za-z0-9.()<>^]{{1,30}})\+)
    | (?P<grace>\{{(?P<grace_slash>/?)(?P<grace_notes>[^}}\n]*)\}})
    | (?P<chord>\[(?P<chord_notes>[^\]\[|\n]*)\](?P<chord_length>{_LENGTH}))
    | (?P<note>{_ACCIDENTAL}?[A-Ga-g][,']{{0,6}}{_LENGTH})
    | (?P<rest>(?P<rest_letter>[zxZX])(?P<rest_length>{_LENGTH}))
    | (?P<tuplet>\((?P<tuplet_p>\d)(?::(?P<tuplet_q>\d?))?(?::(?P<tuplet_r>\d{{0,2}}))?)
    | (?P<slur>\.?\()
    | (?P<slur_end>\))
    | (?P<tie>\.?-)
    | (?P<broken>>{{1,3}}|<{{1,3}})
    | (?P<spacer>y{_LENGTH})
    | (?P<overlay>&)
    | (?P<short>[.~H-Wh-w])
    | (?P<unknown>.)
    """,
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Token:
    """A sign: its kind, its text and the parts of it by name."""

    kind: str
    text: str
    parts: dict[str, str | None]

    def part(self, name: str) -> str:
        """Give a part of the sign, empty if it is not there."""
        return self.parts.get(name) or ""


_KINDS = (
    "space", "field", "ending", "dotted_bar", "bar", "text", "decoration", "grace", "chord",
    "note", "rest", "tuplet", "slur", "slur_end", "tie", "broken", "spacer", "overlay",
    "short", "unknown",
)  # fmt: skip


def tokens(line: str) -> Iterator[Token]:
    """Yield the signs of a line of music; spaces are left out."""
    for match in _TOKEN.finditer(line):
        groups = match.groupdict()
        kind = next(kind for kind in _KINDS if groups[kind] is not None)
        if kind != "space":
            yield Token(kind, match[0], groups)


def length_factor(text: str) -> Fraction:
    """Read the length behind a note: ``3/2``, ``/``, ``//``, ``4``.

    Raises
    ------
    ValueError
        If it divides by zero or is zero.

    Examples
    --------
    >>> length_factor("3/2"), length_factor("//"), length_factor("")
    (Fraction(3, 2), Fraction(1, 4), Fraction(1, 1))
    """
    top, slash, _ = text.partition("/")
    slashes = text.count("/")
    bottom = text[text.rfind("/") + 1 :] if slash else ""
    if (top and int(top) == 0) or (bottom and int(bottom) == 0) or slashes > 6:
        raise ValueError(f'"{text}" is not a note length')
    factor = Fraction(int(top or 1))
    if bottom:
        return factor / (int(bottom) << (slashes - 1))
    return factor / (1 << slashes)
