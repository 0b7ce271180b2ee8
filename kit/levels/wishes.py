"""What may be asked of suggestions and drafts: level, leaning, players, idiom and tempo?

Source of the leanings: `taste.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal

from kit.levels._limits import Limits, limits_of
from kit.levels._player import Player
from kit.levels.idioms import Idiom, idiom_of
from kit.tune.model import Tune

__all__ = ["LEVELS", "TASTES", "LevelName", "Taste", "Terms", "Wishes", "tastes"]

LevelName = Literal["intermediate", "advanced"]
Taste = Literal["balanced", "rhythm", "ornaments", "lines", "harmony"]
LEVELS: tuple[LevelName, ...] = ("intermediate", "advanced")
TASTES: tuple[Taste, ...] = ("balanced", "rhythm", "ornaments", "lines", "harmony")


@dataclass(frozen=True, slots=True)
class Terms:
    """On what terms edits are chosen, where they are not the tune's own.

    Parameters
    ----------
    idiom : Idiom
        Whose vocabulary is drawn on.
    tempo_qpm : float > 0
        Quarter notes a minute at which everything must be playable.
    below : Tune, optional
        The level that a draft has to be harder than; the tune, or for an advanced level its
        intermediate draft, unless said.
    played_qpm : (float, float), optional
        Quarter notes a minute at which the level below and this one are played: a draft is
        then harder at these tempi too, as their difficulties are printed.

    Raises
    ------
    ValueError
        If a tempo is not above zero.
    """

    idiom: Idiom
    tempo_qpm: float
    below: Tune | None = None
    played_qpm: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        """Refuse a tempo that is none."""
        for tempo in (self.tempo_qpm, *(self.played_qpm or ())):
            if not tempo > 0:
                raise ValueError(f"a tempo must be above zero, not {tempo}")

    @classmethod
    def of(cls, tune: Tune) -> Terms:
        """Give the tune's own: its idiom, at the tempo of that idiom's fastest level."""
        idiom = idiom_of(tune)
        return cls(idiom, idiom.tempo_qpm(tune))


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is asked of edits: parameters of `suggestions`, refused where there are none."""

    level: LevelName
    terms: Terms
    seed: int = 0
    instruments: Sequence[Player] = ()
    taste: Taste = "balanced"

    def __post_init__(self) -> None:
        if self.level not in LEVELS:
            raise ValueError(
                f"drafts are made for {' and '.join(LEVELS)}, not {self.level!r}"
            )
        if self.taste not in TASTES:
            raise ValueError(f"{self.taste!r} is not one of {', '.join(TASTES)}")

    def limits(self, tune: Tune) -> Limits:
        """Work out what the players can do."""
        return limits_of(
            tune, self.instruments, level=self.level, tempo_qpm=self.terms.tempo_qpm
        )


@cache
def tastes() -> Mapping[str, Mapping[str, float]]:
    """Give what each taste adds to the rank of an idea, by the family of its edit."""
    text = files("kit.levels").joinpath("taste.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
