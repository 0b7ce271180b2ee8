"""What are the kinds of differences between two levels called, in prose?"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import NamedTuple

from kit.tune.marks import edited_marks, marks

__all__ = ["KindWords", "kind_words", "kinds"]


class KindWords(NamedTuple):
    """A kind of difference: one with its article, and several."""

    one: str
    several: str


@cache
def kinds() -> Mapping[str, KindWords]:
    """Give the words of all kinds that `kit.levels.compare` tells apart.

    Where one edit puts several signs, the sign that bears the edit's name speaks for all:
    "mordents" are from above and from below.
    """
    table = tomllib.loads(files("kit.levels").joinpath("kinds.toml").read_text("utf-8"))
    words = {mark.kind: KindWords(mark.one, mark.several) for mark in marks().values()}
    for edit, signs in edited_marks().items():
        named = next((sign for sign in signs if sign.spoken == edit), signs[0])
        words[edit] = KindWords(named.one, named.several)
    return {kind: KindWords(*both) for kind, both in table.items()} | words


def kind_words(kind: str) -> KindWords:
    """Give the words of one kind.

    Raises
    ------
    KeyError
        If the comparison yields no such kind.
    """
    return kinds()[kind]
