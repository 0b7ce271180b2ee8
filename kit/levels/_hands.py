"""How badly does a step lie for the worst placed of several players?

Conventions
-----------
* Pitches are concert pitches; each player reads them at the interval of the whole part. A
  phrase that is folded into the range for a player is asked about where it stood.
* The cost is that of `kit.instruments.awkward`, 0 where the step lies well.
"""

from __future__ import annotations

from collections.abc import Iterable

from kit.instruments.awkward import awkward
from kit.levels._player import Player
from kit.tune.pitch import Interval, Pitch

__all__ = ["Hands"]


class Hands:
    """What the players of a tune have to do from note to note.

    Parameters
    ----------
    players : iterable of (Player, Interval)
        Who plays, and how far above concert pitch each reads.
    """

    def __init__(self, players: Iterable[tuple[Player, Interval]] = ()) -> None:
        self._players = tuple(players)
        self._costs: dict[tuple[int, int], int] = {}

    def cost(self, one: Pitch, other: Pitch) -> int:
        """Give the worst cost of a step among the players, 0 to 3."""
        # The same steps are asked about again and again, in whatever spelling.
        step = min(one.midi, other.midi), max(one.midi, other.midi)
        if step not in self._costs:
            found = [awkward(one + up, other + up, who) for who, up in self._players]
            self._costs[step] = max((each.cost for each in found if each), default=0)
        return self._costs[step]
