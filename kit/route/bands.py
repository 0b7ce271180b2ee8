"""Who of the band plays in each bar of a passage?

Conventions
-----------
* Nothing here changes a bar or a second: bars in which the band is silent last as long as
  the others, and so do those in double time, which is a *feel* (the beat is halved, the
  chords stay as long as they were).
* Stop-time: everyone strikes on the first beat of each bar and is silent until the next.
* A break: the band strikes once where it begins and leaves the soloist alone to its end.
* Trading fours: four bars of the soloist with the band, four of the drummer alone, in turn,
  and on into the next passage that is traded: a blues has three fours in a chorus.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, Protocol

from kit.errors import RouteError
from kit.tune.model import Meter

__all__ = ["PASSAGE_BANDS", "BarBand", "PassageBand", "bands_of"]

PassageBand = Literal["full", "stop-time", "double-time", "trading-fours"]
PASSAGE_BANDS: tuple[PassageBand, ...] = (
    "full",
    "stop-time",
    "double-time",
    "trading-fours",
)
BarBand = Literal["full", "stop-time", "double-time", "drums", "silent"]
"""Everyone; everyone on the first beat only; everyone at twice the pace; the drummer
alone; nobody."""
_TRADED_BARS = 4


class _Bar(Protocol):
    @property
    def number(self) -> int: ...
    @property
    def meter(self) -> Meter: ...
    @property
    def is_pickup(self) -> bool: ...


def bands_of(
    bars: Sequence[_Bar], band: PassageBand, break_bars: int, *, traded: int = 0
) -> list[BarBand]:
    """Say of each bar of a passage who plays in it; pick-ups go with the bar after.

    Parameters
    ----------
    bars : sequence
        The passage's bars, pick-ups among them.
    band : PassageBand
        How the passage is played.
    break_bars : int >= 0
        So many bars at its end are the soloist's.
    traded : int >= 0
        So many bars have been traded in the passages just before.

    Raises
    ------
    RouteError
        If the break is longer than the passage, the passage too short to trade fours, or
        double time is asked of a compound meter.
    """
    full = [bar for bar in bars if not bar.is_pickup]
    traded = traded if band == "trading-fours" else 0
    _require_fit(full, band, break_bars, traded)
    told: list[BarBand] = []
    place = 0
    for bar in bars:
        told.append(_bar_band(band, break_bars, traded + place, len(full) - place))
        place += not bar.is_pickup
    return told


def _require_fit(
    full: Sequence[_Bar], band: PassageBand, break_bars: int, traded: int
) -> None:
    if band == "trading-fours" and traded + len(full) < 2 * _TRADED_BARS:
        raise RouteError(
            f"a passage of {len(full)} bars is too short to trade fours",
            remedy=f"give it {2 * _TRADED_BARS} bars or more",
        )
    if break_bars > len(full):
        raise RouteError(
            f"a break of {break_bars} bars does not fit a passage of {len(full)} bars",
            remedy="make the break shorter",
        )
    eighths = next((bar for bar in full if bar.meter.beat_type >= 8), None)
    if band == "double-time" and eighths is not None:
        raise RouteError(
            f"double time halves a beat of a quarter or more, and bar {eighths.number} is "
            f"in {eighths.meter}",
            remedy="leave it out of this passage",
        )


def _bar_band(band: PassageBand, break_bars: int, place: int, left: int) -> BarBand:
    if left <= break_bars:
        # The stroke on which the band stops belongs to the break (common practice).
        return "stop-time" if left == break_bars else "silent"
    if band == "trading-fours":
        return "drums" if place // _TRADED_BARS % 2 else "full"
    return band
