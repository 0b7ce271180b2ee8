"""Which decorations can a note have, and what are they called wherever they are told of?

One table (``marks.toml``) serves readers, writers, edits, comparison, drafted prose,
handouts and screen readers; its head says what stands in a row.

Sources: MusicXML 4.0 (``ornaments``, ``technical``, ``articulations``), ABC 2.1 (section
4.14), SMuFL 1.4 (W3C); the words are common practice.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

__all__ = ["Mark", "MarkGroup", "edited_marks", "in_written_order", "mark_named", "marks"]

MarkGroup = Literal["ornaments", "technical", "articulations", "apart"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A decoration of a note.

    Parameters
    ----------
    name : str
        As in MusicXML, and in `kit.tune.model.Note.marks`.
    group : MarkGroup
        The element of MusicXML that holds it; ``apart`` where there is none.
    one, several, spoken : str
        In the singular with its article, in the plural, and read aloud behind a note.
    sign : str
        SMuFL code point, hexadecimal; empty where it is a line or no sign of its own.
    abc : tuple of str
        Names in ABC.
    edit, to : str
        What a level file calls it and its option ``to``; empty where no edit puts it.
    effect : str
        What the edit does; stands in the first row of an edit.
    """

    name: str
    group: MarkGroup
    one: str
    several: str
    spoken: str
    sign: str = ""
    abc: tuple[str, ...] = ()
    edit: str = ""
    to: str = ""
    effect: str = ""

    @property
    def kind(self) -> str:
        """What a comparison calls it: the word of a level file if there is one."""
        # A staccato that was put by an edit and one that was printed are one kind.
        return self.edit or self.spoken


@cache
def marks() -> Mapping[str, Mark]:
    """Give all decorations by name, in the order in which they are written on one note."""
    table = tomllib.loads(files("kit.tune").joinpath("marks.toml").read_text("utf-8"))
    return {
        name: Mark(name, **{**row, "abc": tuple(row.get("abc", ()))})
        for name, row in table.items()
    }


def mark_named(name: str) -> Mark:
    """Give a decoration.

    Raises
    ------
    KeyError
        If there is none of that name; readers let no other into a tune.
    """
    return marks()[name]


def edited_marks() -> Mapping[str, tuple[Mark, ...]]:
    """Give the decorations that an edit puts, by the edit, its usual one first."""
    found: dict[str, tuple[Mark, ...]] = {}
    for mark in marks().values():
        if mark.edit:
            found[mark.edit] = (*found.get(mark.edit, ()), mark)
    return found


def in_written_order(names: Iterable[str]) -> tuple[str, ...]:
    """Give each decoration once, in the order in which the groups are written.

    Examples
    --------
    >>> in_written_order(["ghost", "fermata", "staccato", "turn", "staccato"])
    ('turn', 'staccato', 'fermata', 'ghost')
    """

    def place(name: str) -> tuple[int, int]:
        group = mark_named(name).group
        apart = _APART.index(name) if group == "apart" else 0
        return _GROUPS.index(group), apart

    # Sorting is stable: within a group the order of the source stays.
    return tuple(sorted(dict.fromkeys(names), key=place))


_GROUPS: tuple[MarkGroup, ...] = ("ornaments", "technical", "articulations", "apart")
# Neither is in a group of MusicXML: one is a notation of its own, one a note head.
_APART = ("fermata", "ghost")
