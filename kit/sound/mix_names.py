"""Which mixes are there? Their table, read without the numerical libraries."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

__all__ = ["MixTable", "mix_names", "mix_table"]


@dataclass(frozen=True, slots=True)
class MixTable:
    """``mixes.toml``: players by mix, level of each player, who is rendered together.

    `together` are the groups rendered in one pass unless other mixes need them apart,
    `together_in_loops` those in a loop, whose players no other mix shares.
    """

    mixes: Mapping[str, tuple[str, ...]]
    balance_lu: Mapping[str, float]
    together: tuple[tuple[str, ...], ...] = ()
    together_in_loops: tuple[tuple[str, ...], ...] = ()

    def players(self, mix: str) -> tuple[str, ...]:
        """Give a mix's players, the count-in among them.

        Raises
        ------
        ValueError
            If there is no such mix.
        """
        if mix not in self.mixes:
            raise ValueError(f"no mix {mix!r}; there are {', '.join(self.mixes)}")
        return (*self.mixes[mix], "count")

    def are_apart(self, mixes: Iterable[str]) -> bool:
        """Say whether one of some mixes has a part of a group that is else together."""
        return any(
            0 < len(set(group) & set(self.mixes[mix])) < len(group)
            for mix in mixes
            for group in self.together
        )

    def stems(
        self, mix: str, *, apart: bool = False, is_loop: bool = False
    ) -> tuple[tuple[str, ...], ...]:
        """Give a mix's players as they are rendered: one, or several together.

        Parameters
        ----------
        mix : str
            The mix.
        apart : bool
            Whether the performance's mixes need each player apart (`are_apart`).
        is_loop : bool
            Whether it is a loop.

        Raises
        ------
        ValueError
            If there is no such mix.
        """
        players = list(self.players(mix))
        stems: list[tuple[str, ...]] = []
        groups = list(self.together_in_loops) if is_loop else []
        if is_loop or not apart:
            groups += self.together
        for group in groups:
            if set(group) <= set(players):
                stems.append(group)
                players = [player for player in players if player not in group]
        return (*stems, *((player,) for player in players))


@cache
def mix_table() -> MixTable:
    """Read ``mixes.toml``."""
    text = (files("kit.sound") / "mixes.toml").read_text(encoding="utf-8")
    table = tomllib.loads(text)
    mixes = {name: tuple(players) for name, players in table["mixes"].items()}
    together, in_loops = (
        tuple(tuple(group) for group in table[name].values())
        for name in ("together", "together_in_loops")
    )
    return MixTable(mixes, table["balance_lu"], together, in_loops)


def mix_names() -> tuple[str, ...]:
    """List the mixes there are: demo, backing, melody and others."""
    return tuple(mix_table().mixes)
