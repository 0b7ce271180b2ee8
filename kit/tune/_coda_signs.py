"""Which coda sign sends the player off, and which one is the goal?

Notation writes the same sign at both places. Where a file does not tell them apart, the
last sign is the goal and those before it mean "to coda"; a segno or coda at a bar's end
stands at the start of the next. Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.tune.model import Bar, Jump

__all__ = ["settled_codas"]


def settled_codas(bars: Sequence[Bar], late: Sequence[frozenset[Jump]]) -> tuple[Bar, ...]:
    """Tell coda signs apart and put late signs into the bar that they mean.

    Parameters
    ----------
    bars : sequence of Bar
    late : sequence of frozenset, one per bar
        The segno and coda signs that stand behind the bar's last note.
    """
    places = [index for index, bar in enumerate(bars) if "coda" in bar.jumps]
    told = any("to coda" in bar.jumps for bar in bars)
    settled = list(bars)
    for index in places[:-1]:
        if not told:
            settled[index] = replace(bars[index], jumps=_renamed(bars[index].jumps))
    for index in range(len(settled) - 1):
        moved = tuple(jump for jump in settled[index].jumps if jump in late[index])
        if moved:
            kept = tuple(jump for jump in settled[index].jumps if jump not in moved)
            following = settled[index + 1]
            settled[index] = replace(settled[index], jumps=kept)
            settled[index + 1] = replace(following, jumps=(*moved, *following.jumps))
    return tuple(settled)


def _renamed(jumps: tuple[Jump, ...]) -> tuple[Jump, ...]:
    return tuple("to coda" if jump == "coda" else jump for jump in jumps)
