"""What may a solo ask of a player at a level: how quick, how long, how wide?

Conventions
-----------
* Lengths in seconds become note values by the tempo, so that the same level has eighths in
  a slow tune and quarters in a fast one.
* A grid is the finest note value that a level plays at a tempo; beats are felt beats.

Source: limits.toml.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from importlib.resources import files
from math import ceil
from typing import Literal

from kit.tune.model import Meter

__all__ = ["LEVELS", "SHORTEST_BREATH_S", "LevelName", "Limits", "limits_of"]

LevelName = Literal["beginner", "intermediate", "advanced"]
LEVELS: tuple[LevelName, ...] = ("beginner", "intermediate", "advanced")
_LILT = 0.7
"""A short note behind a long one may be quicker by so much than notes in a row."""
SHORTEST_BREATH_S = 0.4
"""A silence in which a wind player takes a breath without hurry (common practice)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a level allows, with the tempo at which it is to be played.

    Parameters
    ----------
    level : str
        Its name.
    tempo_qpm : float
        Quarter notes a minute.
    shortest_s, breath_s : float
        The quickest succession of two notes, and the longest stretch without a breath.
    parts : int
        Into how many parts a beat of two may be cut.
    cell : (int, int)
        Fewest and most notes of a cell.
    wider, compass : int
        Half steps beyond the melody, and in all.
    same : int
        How often one pitch may come in a row.
    off_beat : bool
        Whether a note may stand off the beat with none on the beat before it.
    rest_beats : (int, int)
        Silence at a phrase's end in beats: the least, and as a rule.
    """

    level: LevelName
    tempo_qpm: float
    shortest_s: float
    breath_s: float
    parts: int
    cell: tuple[int, int]
    wider: int
    compass: int
    same: int
    off_beat: bool
    rest_beats: tuple[int, int]
    _grids: dict[Meter, Fraction] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def seconds(self, quarters: Fraction) -> float:
        """Say how long a length lasts."""
        return float(quarters) * 60 / self.tempo_qpm

    def grid(self, meter: Meter) -> Fraction:
        """Give the shortest note value in quarter notes."""
        # Asked for with every note that is weighed.
        if meter not in self._grids:
            self._grids[meter] = self._shortest(meter)
        return self._grids[meter]

    def _shortest(self, meter: Meter) -> Fraction:
        pulse = meter.pulse
        cuts = [3 * part // 2 if meter.is_compound else part for part in (2, 4)]
        allowed = cuts[: self.parts // 2]
        values = [pulse / cut for cut in allowed] + [pulse, 2 * pulse]
        if self.lilts(meter):
            return pulse / 3
        quick = [value for value in values if self.seconds(value) >= self.shortest_s]
        return min(quick, default=2 * pulse)

    def lilts(self, meter: Meter) -> bool:
        """Whether a dotted beat is cut into long and short only, three being too quick."""
        third = self.seconds(meter.pulse / 3)
        return meter.is_compound and _LILT * self.shortest_s <= third < self.shortest_s

    def breath(self, meter: Meter) -> Fraction:
        """Give the least silence between two phrases, in whole beats."""
        pulse = meter.pulse
        needed = ceil(SHORTEST_BREATH_S / self.seconds(pulse))
        # In half a bar of silence anybody has breathed, however fast it goes.
        return pulse * max(self.rest_beats[0], min(needed, (meter.pulses + 1) // 2))

    def usual_rest(self, meter: Meter) -> Fraction:
        """Give the silence at a phrase's end as a rule: up to half a bar."""
        beats = min(self.rest_beats[1], (meter.pulses + 1) // 2)
        return max(self.breath(meter), meter.pulse * beats)


@cache
def _table() -> dict[str, dict[str, object]]:
    text = files("kit.solo").joinpath("limits.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def limits_of(level: str, *, tempo_qpm: float, breath_s: float | None = None) -> Limits:
    """Give a level's limits at a tempo.

    Parameters
    ----------
    level : str
        One of `LEVELS`.
    tempo_qpm : float > 0
        Quarter notes a minute.
    breath_s : float, optional
        What one breath of the player carries, if that is known.

    Raises
    ------
    ValueError
        For another level, or a tempo that is not above zero.
    """
    if level not in LEVELS:
        raise ValueError(f"{level!r} is not one of {', '.join(LEVELS)}")
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    row = dict(_table()[level])
    if breath_s is not None:
        row["breath_s"] = breath_s
    cell, rest = row.pop("cell"), row.pop("rest_beats")
    return Limits(level, tempo_qpm, cell=tuple(cell), rest_beats=tuple(rest), **row)  # type: ignore[arg-type]
