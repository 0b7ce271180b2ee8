"""Which bars are pick-ups, and which number does each bar bear?

Every reader hands its bars over in order, whatever the file calls them, so that one rule
numbers all tunes alike.

Conventions, common practice
----------------------------
* A short first bar is a pick-up and bears 0; the first full bar bears 1.
* Later, a short bar is a pick-up if it completes the short bar before it, or if a passage
  begins with it (behind a repeat, a double bar, an ending or a section label). It bears
  the number of the bar before it.
* A bar that begins an ending is an alternative, not a lead-in: it is a pick-up only if
  the endings begin within a bar, and it completes the part before them.
* In free meter every bar has the meter that it fills.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from kit.tune.model import Bar, Meter

__all__ = [
    "MAX_BEATS",
    "begins_passage",
    "completes",
    "ends_passage",
    "meter_filled_by",
    "numbered",
]

MAX_BEATS = 255
"""Beats of a bar in free meter; more is a missing bar line."""


def numbered(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Give the bars with their numbers and with the pick-ups marked.

    Examples
    --------
    >>> from kit.tune.model import Note
    >>> short = Bar(0, (Note(Fraction(0), Fraction(1), None),))
    >>> full = Bar(0, (Note(Fraction(0), Fraction(4), None),))
    >>> [bar.number for bar in numbered((short, full, full))]
    [0, 1, 2]
    """
    done: list[Bar] = []
    number = 0
    for index, bar in enumerate(bars):
        pickup = _is_pickup(done, bar, is_last=index == len(bars) - 1)
        # A pick-up in mid-tune shares its number with the bar it completes, as in print.
        if not pickup:
            number += 1
        done.append(replace(bar, number=number, pickup=pickup))
    return tuple(done)


def _is_pickup(before: list[Bar], bar: Bar, *, is_last: bool) -> bool:
    if not bar.is_short:
        return False
    if not before:
        # A short bar that is all there is leads to nothing.
        return not is_last
    last = before[-1]
    if bar.endings and bar.endings != last.endings:
        return _begins_ending_within_bar(before, bar)
    if completes(last, bar):
        return True
    # A one-bar passage that is opened and closed by a short bar is no lead-in.
    return begins_passage(last, bar) and not ends_passage(bar, None) and not is_last


def _begins_ending_within_bar(before: list[Bar], bar: Bar) -> bool:
    """Say whether the endings part a bar: its first half before them, the rest in each."""
    if not before[-1].endings:
        return completes(before[-1], bar)
    first = len(before) - 1
    while first > 0 and before[first - 1].endings:
        first -= 1
    return before[first].pickup and before[first].length == bar.length


def completes(last: Bar, bar: Bar) -> bool:
    """Say whether a short bar is the other part of the short bar before it."""
    return (
        last.is_short
        and not last.pickup
        and last.length + bar.length == last.meter.bar_length
    )


def begins_passage(last: Bar, bar: Bar) -> bool:
    """Say whether something new begins between two neighbouring bars."""
    return bool(
        bar.repeat_start
        or bar.section
        or last.repeat_times
        or last.barline != "single"
        or bar.endings != last.endings
        or bar.meter != last.meter
        or bar.key != last.key
        # Signs stand at the start of what they mark, instructions at the end.
        or any(jump not in ("segno", "coda") for jump in last.jumps)
        or any(jump in ("segno", "coda") for jump in bar.jumps)
    )


def ends_passage(bar: Bar, following: Bar | None) -> bool:
    """Say whether a short bar may stand here because something ends with it."""
    if bar.repeat_times or bar.barline != "single":
        return True
    return following is not None and begins_passage(bar, following)


def meter_filled_by(length: Fraction) -> Meter:
    """Give the meter that a bar of free length fills.

    Raises
    ------
    ValueError
        If no plain time signature has this length, or only one of absurdly many beats.
    """
    # The largest beat first: three quarters are 3/4 and not 6/8.
    for beat_type in (4, 8, 16, 32):
        beats = length * beat_type / 4
        if beats.denominator == 1 and 0 < beats <= MAX_BEATS:
            return Meter(beats.numerator, beat_type)
    raise ValueError(f"no time signature is {length} quarter notes long")
