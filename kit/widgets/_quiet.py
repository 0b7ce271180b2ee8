"""When is it quiet enough for what takes its time?

In a notebook's kernel an event loop runs: what is asked for there is done once nothing more
has been asked for in a moment, and only the newest wish. Where no loop runs it is done at
once.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Hashable

__all__ = ["PAUSE_S", "QUIET_S", "when_quiet"]

QUIET_S = 0.6
"""For what takes long, or follows an edit."""
PAUSE_S = 0.15
"""Between two choices of somebody who goes through a list with the arrow keys."""

_WAITING: dict[Hashable, asyncio.TimerHandle] = {}


def when_quiet(who: Hashable, act: Callable[[], None], *, after_s: float = QUIET_S) -> None:
    """Do something once it is quiet, in place of what `who` has asked for before."""
    try:
        loop = asyncio.get_running_loop()
    except RuntimeError:
        act()
        return

    def go() -> None:
        del _WAITING[who]
        act()

    if waiting := _WAITING.pop(who, None):
        waiting.cancel()
    _WAITING[who] = loop.call_later(after_s, go)
