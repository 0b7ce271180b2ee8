"""What do the hands do for each note of an instrument?

One table for each kind of instrument, `fingerings/<name>.toml`, says for each written note
which fingers, valves or position of the slide play it, the usual way first. A table may
serve several instruments: a row of `instruments.toml` names it, with the interval from the
notes of the table up to those the instrument reads.

Conventions: a *grip* maps what is pressed (``L4``, a valve) to the key it presses (``B♭``),
to nothing where it has only one; the slide is one thing, ``slide``, at a position.

Sources stand in the tables.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, cast

from kit.tune.pitch import Pitch

__all__ = ["FINGERING_NAMES", "Fingerings", "Grip", "Hands", "fingerings"]

Hands = Literal["fingers", "valves", "slide"]
Grip = Mapping[str, str]

FINGERING_NAMES = (
    "saxophone", "clarinet", "flute", "oboe", "bassoon", "recorder", "three-valves", "horn",
    "trombone",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Fingerings:
    """A table: what kind of thing the hands do, and the grips of each MIDI number."""

    hands: Hands
    grips: Mapping[int, tuple[Grip, ...]]


@cache
def fingerings(name: str) -> Fingerings:
    """Read a table, once.

    Parameters
    ----------
    name : str
        One of `FINGERING_NAMES`.
    """
    place = files("kit.instruments").joinpath(f"fingerings/{name}.toml")
    table = tomllib.loads(place.read_text(encoding="utf-8"))
    hands = cast(Hands, table["hands"])
    return Fingerings(
        hands,
        {
            Pitch.parse(note).midi: tuple(_grip(hands, text) for text in ways)
            for note, ways in table["notes"].items()
        },
    )


def _grip(hands: Hands, text: str) -> Grip:
    if hands == "slide":
        return {"slide": text}
    parts = (token.partition(":") for token in text.split())
    return {what: key for what, _, key in parts}
