"""To which group does a note's mark belong, and in what order are marks named?

The names are MusicXML's; ``ghost`` is our name for a head in parentheses. Marks are kept
in the order in which they are written: ornaments, technical signs, articulations, then
what stands apart.

Source: MusicXML 4.0, ``ornaments``, ``technical``, ``articulations``.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

__all__ = ["group_of", "in_written_order"]

Group = Literal["ornaments", "technical", "articulations", "apart"]
_ORNAMENTS = frozenset(
    {
        "trill-mark", "turn", "inverted-turn", "delayed-turn", "mordent",
        "inverted-mordent", "shake", "tremolo",
    }
)  # fmt: skip
_TECHNICAL = frozenset(
    {"up-bow", "down-bow", "stopped", "open-string", "harmonic", "open"}
)  # fmt: skip
_APART = ("fermata", "ghost")
_ORDER: tuple[Group, ...] = ("ornaments", "technical", "articulations", "apart")


def group_of(mark: str) -> Group:
    """Give the group of a mark; what is in no other is an articulation."""
    if mark in _APART:
        return "apart"
    if mark in _ORNAMENTS:
        return "ornaments"
    return "technical" if mark in _TECHNICAL else "articulations"


def in_written_order(marks: Iterable[str]) -> tuple[str, ...]:
    """Give each mark once, in the order in which they are written.

    Examples
    --------
    >>> in_written_order(["ghost", "fermata", "staccato", "turn", "staccato"])
    ('turn', 'staccato', 'fermata', 'ghost')
    """

    def place(mark: str) -> tuple[int, int]:
        apart = _APART.index(mark) if mark in _APART else 0
        return _ORDER.index(group_of(mark)), apart

    return tuple(sorted(dict.fromkeys(marks), key=place))
