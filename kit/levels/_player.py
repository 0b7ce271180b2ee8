"""Who plays a line, and how is it written for that player?

Conventions: all levels are measured by one player (`YARDSTICK`), so that they compare.
"""

from __future__ import annotations

from kit.instruments.table import Instrument as Player
from kit.instruments.transposition import write_part
from kit.tune.model import Tune

__all__ = ["YARDSTICK", "Player", "written_sheet"]

YARDSTICK = "intermediate"
"""Whose comfortable range and breath all levels are measured by, so that they compare."""


def written_sheet(sheet: Tune, player: Player, level: str = YARDSTICK) -> Tune:
    """Write a concert sheet as a player of a level reads it, where it lies best."""
    return write_part(sheet, player, level=level).tune
