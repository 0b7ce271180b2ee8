"""Who plays what a SoundFont does not have? Its nearest sound: nothing falls silent.

The table is ``near.toml``. Percussion kits (bank 128) give way to the standard kit; slurred
copies (bank 1) to the sound itself.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Iterator
from functools import cache
from importlib.resources import files

__all__ = ["nearest_preset"]

_PERCUSSION = 128


def nearest_preset(
    wanted: tuple[int, int], there: Collection[tuple[int, int]]
) -> tuple[int, int]:
    """Choose among the presets of a font the one that is nearest to another.

    Parameters
    ----------
    wanted : (bank, program)
        What is asked for.
    there : collection of (bank, program)
        What the font has.

    Returns
    -------
    (bank, program)
        `wanted` itself, if the font has it.

    Raises
    ------
    ValueError
        If the font has nothing.

    Examples
    --------
    >>> nearest_preset((0, 59), {(0, 0), (0, 56), (0, 71)})
    (0, 56)
    >>> nearest_preset((128, 8), {(0, 0), (128, 0)})
    (128, 0)
    """
    if not there:
        raise ValueError("a font without presets has none that is near")
    for choice in _in_order(wanted):
        if choice in there:
            return choice
    return min(there, key=lambda have: _distance(have, wanted))


def _in_order(wanted: tuple[int, int]) -> Iterator[tuple[int, int]]:
    bank, program = wanted
    yield wanted
    if bank == _PERCUSSION:
        yield bank, 0
        return
    yield 0, program
    for near in _table()[program]:
        yield 0, near


def _distance(have: tuple[int, int], wanted: tuple[int, int]) -> tuple[int, int, int]:
    (bank, program), (wanted_bank, wanted_program) = have, wanted
    is_other_kind = (bank == _PERCUSSION) != (wanted_bank == _PERCUSSION)
    return is_other_kind, abs(program - wanted_program), bank


@cache
def _table() -> dict[int, list[int]]:
    text = (files("kit.sound.font") / "near.toml").read_text(encoding="utf-8")
    table: dict[int, list[int]] = {}
    for programs, near in tomllib.loads(text)["near"].items():
        first, _, last = programs.partition("-")
        for program in range(int(first), int(last or first) + 1):
            table[program] = near
    return table
