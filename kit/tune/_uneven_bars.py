"""How is a tune kept whose bars do not add up, if the teacher wants it so?

Old collections change the meter without saying so. Asked to keep such bars, a reader gives
each the meter that it fills and says which ones they are. A bar that fills no meter stays
as it is, to be refused later.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from kit.tune._notices import Notices
from kit.tune._numbering import meter_filled_by, numbered
from kit.tune._validate import adds_up
from kit.tune.model import Bar, Meter

__all__ = ["with_filled_meters"]

# More is two bars whose line is missing rather than a meter.
_BEATS_AT_MOST = 64
_NAMED_AT_MOST = 12


def with_filled_meters(bars: Sequence[Bar], notices: Notices) -> tuple[Bar, ...]:
    """Give every bar that does not add up the meter that it fills."""
    done: list[Bar] = []
    changed: list[int] = []
    for bar, following in pairwise((*bars, None)):
        assert bar is not None
        if not adds_up(bar, following):
            meter = _meter_of(bar)
            if meter is not None:
                bar = replace(bar, meter=meter)  # noqa: PLW2901 - the same bar, mended
                changed.append(bar.number)
        done.append(bar)
    if not changed:
        return tuple(bars)
    named = ", ".join(str(number) for number in changed[:_NAMED_AT_MOST])
    more = " and more" if len(changed) > _NAMED_AT_MOST else ""
    notices.say(f"Bars that did not add up were given the meter they fill: {named}{more}.")
    # A short bar may have counted as a pick-up; with a meter of its own it does not.
    return numbered(done)


def _meter_of(bar: Bar) -> Meter | None:
    try:
        meter = meter_filled_by(bar.length)
    except ValueError:
        return None
    return meter if meter.beats <= _BEATS_AT_MOST else None
