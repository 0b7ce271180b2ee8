"""Where does a long phrase breathe?

A wind player breathes in rests. Where a phrase lasts longer than a breath, the longest note
of its later half is cut short, as one would do on the stand.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from kit.solo._develop import Stroke
from kit.solo._limits import SHORTEST_BREATH_S, Limits
from kit.tune.model import Meter

__all__ = ["with_breaths"]

_NOT_BEFORE = 0.4
"""Nobody breathes again before so much of a breath is used."""


def with_breaths(
    strokes: Sequence[Stroke], meter: Meter, limits: Limits
) -> tuple[Stroke, ...]:
    """Cut rests into a phrase that is too long for one breath.

    Parameters
    ----------
    strokes : sequence of Stroke
        In order.
    meter : Meter
        Of the bars.
    limits : Limits
        The breath in seconds, and the shortest note.
    """
    grid = limits.grid(meter)
    needed = grid
    while limits.seconds(needed) < SHORTEST_BREATH_S:
        needed += grid
    longest = _floor(limits.breath_s * limits.tempo_qpm / 60, grid)
    if not strokes or strokes[-1].end - strokes[0].onset <= longest:
        return tuple(strokes)
    done: list[Stroke] = []
    breath: list[Stroke] = []
    for stroke in strokes:
        if breath and stroke.onset - breath[-1].end >= needed:
            done += breath
            breath = []
        gives_way = bool(done) and not breath and stroke.onset < done[-1].end + needed
        while breath and not gives_way and stroke.end - breath[0].onset > longest:
            spent = _cut(breath, stroke.onset, needed, longest, grid)
            # Where no note is long enough to be cut, those behind give way to the breath.
            gives_way = spent is None
            kept = len(breath) if spent is None else spent + 1
            done += breath[:kept]
            breath = breath[kept:]
        if not gives_way:
            breath.append(replace(stroke, duration=min(stroke.duration, longest)))
    return (*done, *breath)


def _cut(
    breath: list[Stroke], end: Fraction, needed: Fraction, longest: Fraction, grid: Fraction
) -> int | None:
    """Shorten one note to make a rest behind it; give its place, None if none can be."""
    onsets = [stroke.onset for stroke in breath[1:]] + [end]
    fit = [
        k
        for k, after in enumerate(onsets)
        if after - needed - breath[k].onset >= grid
        and after - breath[0].onset >= Fraction(_NOT_BEFORE) * longest
    ]
    if not fit:
        return None
    place = max(fit, key=lambda k: (onsets[k] - breath[k].onset, k))
    room = onsets[place] - needed - breath[place].onset
    breath[place] = replace(breath[place], duration=min(breath[place].duration, room))
    return place


def _floor(quarters: float, grid: Fraction) -> Fraction:
    return max(grid, Fraction(quarters).limit_denominator(64) // grid * grid)
