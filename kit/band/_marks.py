"""What do the marks of a note change in its length and loudness? ``articulation.toml``."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["Articulation", "articulation"]


@dataclass(frozen=True, slots=True)
class Articulation:
    """How a note is tongued and let go.

    `length` is the share of its time that sounds, None for what its place decides;
    `level_db` is against a plain note, `decay_db` how far it falls behind its attack.
    """

    length: float | None = None
    level_db: float = 0.0
    decay_db: float = 0.0


@cache
def _table() -> dict[str, Articulation]:
    text = (files("kit.band") / "articulation.toml").read_text(encoding="utf-8")
    return {name: Articulation(**row) for name, row in tomllib.loads(text).items()}


def articulation(marks: Collection[str]) -> Articulation:
    """Put a note's marks together: levels add up, of two lengths the shorter is played.

    A dot under a dash is the portato that the table has a row for.
    """
    table = _table()
    names = set(marks)
    if {"staccato", "tenuto"} <= names:
        names = names - {"staccato", "tenuto"} | {"detached-legato"}
    rows = [row for name, row in table.items() if name in names]
    lengths = [row.length for row in rows if row.length is not None]
    return Articulation(
        min(lengths, default=None),
        sum(row.level_db for row in rows),
        max((row.decay_db for row in rows), default=0.0),
    )
