"""How do a few bars become a loop that can be repeated without a seam?

A bar of sticks, then the bars, then the sticks again: so the loop gives the tempo each
time round. Pick-up notes sound over the sticks, sounds held into the first bar are struck
again on its first beat, and everything is released where the loop ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from kit.band._count_in import count_in
from kit.band.events import NoteEvent, Performance
from kit.route.plan import PerformedBar
from kit.route.tempo import STEADY

__all__ = ["loop_of"]

_SLACK_S = 0.04
"""A note may come a little early or late: it is counted to the beat it belongs to."""
_RELEASE_S = 0.03
_HELD_S = 0.1
_TUNED = ("melody", "bass", "chords")


def loop_of(performance: Performance, bars: Sequence[PerformedBar]) -> Performance:
    """Cut consecutive bars out of a steady performance and put a count-in before them.

    Parameters
    ----------
    performance : Performance
        What is played, at one tempo.
    bars : sequence of PerformedBar
        Some of its bars in order, not empty; pick-ups first if the melody has one.

    Raises
    ------
    ValueError
        If there are no bars but pick-ups, or the performance is not steady.
    """
    full = [bar for bar in bars if not bar.is_pickup]
    if not full:
        raise ValueError("a loop needs at least one full bar")
    if performance.tempo_map != STEADY:
        raise ValueError("a loop cannot slow down, nor begin with a silence")
    quarter_s = 60.0 / performance.tempo_qpm
    start_s, end_s = float(full[0].start) * quarter_s, float(full[-1].end) * quarter_s
    pickup_s = max(0.0, start_s - float(bars[0].start) * quarter_s)
    sticks_bar = replace(full[0], start=full[0].start * 0, length=full[0].meter.bar_length)
    sticks_s = float(sticks_bar.length) * quarter_s
    sticks = [
        NoteEvent("count", note.midi, float(note.start) * quarter_s, 0.1, note.velocity)
        for note in count_in([sticks_bar], tempo_qpm=performance.tempo_qpm)
    ]
    # A pick-up longer than the bar of sticks would begin before the loop does.
    shift_s = sticks_s - start_s
    first_s = start_s - min(pickup_s, sticks_s)
    music = [
        _moved(event, shift_s, sticks_s + end_s - start_s)
        for event in performance.events
        if event.player != "count"
        and (first_s if event.player == "melody" else start_s) - _SLACK_S
        <= event.start_s
        < end_s - _SLACK_S
    ]
    held = [
        replace(
            e,
            start_s=sticks_s,
            duration_s=min(e.end_s, end_s) - start_s,
            bends=(),
            swell=(),
            joined=False,
        )
        for e in performance.events
        if e.player in _TUNED
        and e.start_s < (first_s if e.player == "melody" else start_s) - _SLACK_S
        and e.end_s > start_s + _HELD_S
    ]
    return Performance(
        tuple(sorted([*sticks, *music, *held], key=lambda e: (e.player, e.start_s))),
        seconds=sticks_s + end_s - start_s,
        music_start_s=sticks_s,
        programs=performance.programs,
        tempo_qpm=performance.tempo_qpm,
        meter=performance.meter,
        a4_hz=performance.a4_hz,
    )


def _moved(event: NoteEvent, shift_s: float, end_s: float) -> NoteEvent:
    start = max(0.0, event.start_s + shift_s)
    length = max(0.02, min(event.duration_s, end_s - _RELEASE_S - start))
    return replace(event, start_s=start, duration_s=length)
