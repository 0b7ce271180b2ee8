"""How often does another old printing of such a dance tune have what an edit would add?

The counts are in `printings.toml`, which says where they come from.

Conventions: a place is "beat" (on a beat of the dance) or "between". Graces, turns,
mordents and trills count as one: old printings often leave open which of them is meant.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from math import log10
from typing import Any

__all__ = ["printed_before", "printing_bonus"]

_KIND = {
    "grace": "ornament", "turn": "ornament", "mordent": "ornament", "trill": "ornament",
    "repeat": "repeat", "passing note": "passing note", "neighbour note": "neighbour note",
    "pitch": "another note",
}  # fmt: skip
_ADDED_BETWEEN = frozenset({"repeat", "passing note", "neighbour note"})
"""What these edits add stands behind their note, whatever place that has."""
_ENOUGH = 5
"""So many times it must have been found to be called a habit."""
_WEIGHT = 0.5


def printing_bonus(idiom: str, do: str, *, on_beat: bool) -> float:
    """Give what an edit's rank gains by being found in printings.

    Parameters
    ----------
    idiom : str
        Its name.
    do : str
        The kind of edit.
    on_beat : bool
        Whether its note stands on a beat of the dance.

    Returns
    -------
    float, 0 to about 0.9
        Half the logarithm of one more than the times in a hundred like bars.
    """
    count = _count(idiom, do, on_beat=on_beat)
    bars = _table().get(idiom, {}).get("bars", 1)
    return _WEIGHT * log10(1 + 100 * count / bars)


def printed_before(idiom: str, do: str, *, on_beat: bool) -> bool:
    """Whether other printings of this kind of tune have it often enough to say so."""
    return _count(idiom, do, on_beat=on_beat) >= _ENOUGH


def _count(idiom: str, do: str, *, on_beat: bool) -> int:
    where = "beat" if on_beat and do not in _ADDED_BETWEEN else "between"
    rows = _table().get(idiom, {}).get(where, {})
    return int(rows.get(_KIND.get(do, ""), 0))


@cache
def _table() -> Mapping[str, Mapping[str, Any]]:
    text = files("kit.levels").joinpath("printings.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
