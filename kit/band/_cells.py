"""Which rhythms does a pianist know by name?

The cells of free comping stand in ``comp_cells.toml``; feels name those they use. Places
and lengths are in beats from the start of a group of beats.

Source: common practice.
"""

from __future__ import annotations

import tomllib
from fractions import Fraction
from functools import cache
from importlib.resources import files

__all__ = ["cell_hits", "cell_names"]

Hits = tuple[tuple[Fraction, Fraction], ...]


@cache
def _cells() -> dict[str, dict[int, Hits]]:
    text = (files("kit.band") / "comp_cells.toml").read_text(encoding="utf-8")
    return {
        name: {
            int(beats): tuple(
                (_simple(place), _simple(length)) for place, length in strokes
            )
            for beats, strokes in table.items()
        }
        for name, table in tomllib.loads(text).items()
    }


def _simple(number: float) -> Fraction:
    return Fraction(number).limit_denominator(20)


def cell_names() -> tuple[str, ...]:
    """List the cells there are."""
    return tuple(_cells())


def cell_hits(name: str, beats: int) -> Hits:
    """Give a cell's (place, length) pairs for a group of 2, 3 or 4 beats.

    Raises
    ------
    ValueError
        If there is no such cell for so many beats.

    Examples
    --------
    >>> [float(place) for place, _ in cell_hits("charleston", 4)]
    [0.0, 1.5]
    """
    found = _cells().get(name, {}).get(beats)
    if found is None:
        raise ValueError(f'no cell "{name}" for {beats} beats')
    return found
