"""How are grace notes, trills, turns, falls and scoops really played?

Ornaments on a main note become a row of (MIDI number, share of the note's time) or a bend
curve in semitones. Grace notes are crushed in just before the beat, so that the main note
keeps its place on the map.

Source: common practice; mark names are those of MusicXML 4.0.
"""

from __future__ import annotations

import math
from collections.abc import Collection

from kit.tune.pitch import Key, Pitch

__all__ = ["GRACE_S", "bend_curve", "neighbour", "ornament", "vibrato"]

GRACE_S = 0.06
"""Length of one grace note, where the note before leaves room."""

_TRILL_NOTES_PER_S = 11.0
_VIBRATO_HZ = 5.2
_VIBRATO_CENTS = 11.0

Curve = tuple[tuple[float, float], ...]


def neighbour(pitch: Pitch, key: Key, *, above: bool) -> int:
    """Give the MIDI number of the scale note next above or below."""
    scale = {name.pitch_class for name in key.scale}
    step = 1 if above else -1
    midi = pitch.midi + step
    while midi % 12 not in scale:
        midi += step
    return midi


def ornament(
    pitch: Pitch, key: Key, marks: Collection[str], duration_s: float
) -> tuple[tuple[int, float], ...]:
    """Give the notes that an ornamented note is made of: (MIDI number, share of its time).

    A note without an ornament, or too short for one, is a single pair.
    """
    main = pitch.midi
    plain = ((main, 1.0),)
    quick = min(0.08, duration_s / 6) / duration_s
    if duration_s < 0.12:
        return plain
    if "trill-mark" in marks:
        count = max(3, int(duration_s * _TRILL_NOTES_PER_S) | 1)
        upper = neighbour(pitch, key, above=True)
        return tuple((upper if i % 2 else main, 1.0 / count) for i in range(count))
    if "mordent" in marks:
        lower = neighbour(pitch, key, above=False)
        return ((main, quick), (lower, quick), (main, 1.0 - 2 * quick))
    if "inverted-mordent" in marks:
        upper = neighbour(pitch, key, above=True)
        return ((main, quick), (upper, quick), (main, 1.0 - 2 * quick))
    if "turn" in marks:
        upper = neighbour(pitch, key, above=True)
        lower = neighbour(pitch, key, above=False)
        row = ((upper, quick), (main, quick), (lower, quick))
        return (*row, (main, 1.0 - 3 * quick))
    return plain


def bend_curve(marks: Collection[str], duration_s: float) -> Curve:
    """Give the bends of scoops, plops, falls and doits, empty for other notes."""
    into: list[tuple[float, float]] = []
    head = min(0.12, duration_s * 0.4)
    if "scoop" in marks:
        into = [(0.0, -1.0), (head / 2, -0.5), (head, 0.0)]
    elif "plop" in marks:
        into = [(0.0, 3.0), (head / 2, 1.2), (head, 0.0)]
    target = -4.0 if "falloff" in marks else 3.0 if "doit" in marks else 0.0
    if target:
        tail = min(0.25, duration_s * 0.45)
        start = duration_s - tail
        into += [(start + tail * i / 8, target * (i / 8) ** 1.5) for i in range(9)]
    return tuple(into)


def vibrato(duration_s: float) -> Curve:
    """Give a slowly growing vibrato for a long note, empty for a short one."""
    settle = 0.45
    if duration_s < 0.9:
        return ()
    points: list[tuple[float, float]] = []
    for step in range(int((duration_s - settle) * 40)):
        at = step / 40
        depth = _VIBRATO_CENTS / 100 * min(1.0, at / 0.6)
        points.append((settle + at, depth * math.sin(2 * math.pi * _VIBRATO_HZ * at)))
    return (*points, (duration_s, 0.0)) if points else ()
