"""Which way does the bass play each bar: walking, on a pattern, on a pedal, or not at all?

In stop-time it strikes the root with everyone else; while the drummer or the soloist is
alone it rests. In double time it walks in half beats, and a chord of eight of them is
walked as two of four.

Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from kit.band._pattern_bass import bass_class, nearest, play_pattern
from kit.band._pedal import play_pedal
from kit.band._walking import walk
from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote

__all__ = ["play_bass"]


def play_bass(chart: Sequence[ChartBar], *, rng: random.Random) -> list[PartNote]:
    """Write the bass up to the final bar, in runs of one style.

    Parameters
    ----------
    chart : sequence of ChartBar
        The whole chart.
    rng : random.Random
        Chooses patterns and lines.
    """
    notes: list[PartNote] = []
    body = list(chart[:-1])
    place = 0
    for style, run in groupby(body, key=_bass_style):
        bars = list(run)
        place += len(bars)
        if style == "rest":
            continue
        after = notes[-1].midi if notes else None
        # The last bar of a run leads on to what follows, in whatever style that is.
        into = chart[place].changes[0]
        if style == "stop":
            notes += _stops(bars, after)
        elif style == "walking":
            halves = [_in_halves(bar) for bar in bars]
            notes += walk(halves, rng=rng, after=after, into=into.symbol)
        elif style == "pedal":
            notes += _pedal(bars, after, rng)
        else:
            notes += play_pattern(bars, rng=rng, after=after, into=into)
    return notes


def _pedal(
    bars: Sequence[ChartBar], after: int | None, rng: random.Random
) -> list[PartNote]:
    """Play the pedals of consecutive bars, each in the octave nearest to the last note."""
    notes: list[PartNote] = []
    for bar in bars:
        symbol = bar.changes[0].symbol
        assert symbol is not None
        last = notes[-1].midi if notes else after
        pitch = nearest(bass_class(symbol), last if last is not None else 38)
        notes += play_pedal([bar], pitch, rng=rng)
    return notes


def _stops(bars: Sequence[ChartBar], after: int | None) -> list[PartNote]:
    """Strike the root on the first beat of each bar, half a beat long."""
    notes: list[PartNote] = []
    last = after if after is not None else 38
    for bar in bars:
        symbol = bar.changes[0].symbol
        if symbol is not None:
            last = nearest(bass_class(symbol), last)
            notes.append(PartNote(bar.start, bar.pulse / 2, last, 90))
    return notes


def _in_halves(bar: ChartBar) -> ChartBar:
    """Cut the chords of a bar in double time, which has eight beats or six, in two."""
    if bar.band != "double-time":
        return bar
    step = bar.groups[0] * bar.pulse
    changes: list[Change] = []
    for change in bar.changes:
        start, is_new = change.start, change.is_new
        while start < change.end:
            stop = min(change.end, start + step)
            changes.append(replace(change, start=start, end=stop, is_new=is_new))
            start, is_new = stop, False
    return replace(bar, changes=tuple(changes))


def _bass_style(bar: ChartBar) -> str:
    if bar.band in ("drums", "silent"):
        return "rest"
    if bar.band == "stop-time":
        return "stop"
    if bar.is_pedal:
        return "pedal"
    # Nobody walks in beats of two and three eighths.
    if bar.is_uneven:
        return "pattern"
    return bar.feel.bass_solo if bar.is_solo else bar.feel.bass_head
