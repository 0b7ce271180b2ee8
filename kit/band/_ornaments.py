"""How are grace notes, trills, turns, falls and scoops really played?

Ornaments on a main note become a row of (MIDI number, share of the note's time) or a bend
curve in semitones. Grace notes are crushed in just before the beat, so that the main note
keeps its place on the map.

A decoration that is played in a way of its own gets a function and a line in `_PLAYED`.

Source: common practice; mark names are those of MusicXML 4.0.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from functools import partial

from kit.tune.pitch import Key, Pitch

__all__ = ["GRACE_S", "bend_curve", "neighbour", "ornament", "vibrato"]

GRACE_S = 0.06
"""Length of one grace note, where the note before leaves room."""

_SHORTEST_S = 0.12
"""What is shorter is played plain."""
_QUICK_S = 0.08
_TRILL_NOTES_PER_S = 11.0
_SHAKE_NOTES_PER_S = 9.0
"""A lip or finger shake is slower than a trill (common practice)."""
_VIBRATO_HZ = 5.2

Curve = tuple[tuple[float, float], ...]


def neighbour(pitch: Pitch, key: Key, *, above: bool) -> int:
    """Give the MIDI number of the scale note next above or below."""
    # Without a sign of its own an ornament keeps to the key (common practice).
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
    if duration_s >= _SHORTEST_S:
        for mark in marks:
            if mark in _PLAYED:
                return _PLAYED[mark](pitch, key, duration_s)
    return ((pitch.midi, 1.0),)


Row = tuple[tuple[int, float], ...]


def _quick(duration_s: float) -> float:
    """Give the share of one quick note."""
    return min(_QUICK_S, duration_s / 6) / duration_s


def _to_and_fro(main: int, other: int, duration_s: float, notes_per_s: float) -> Row:
    """Alternate two notes, the first one at both ends."""
    # Odd, so that it ends on its main note.
    count = max(3, int(duration_s * notes_per_s) | 1)
    return tuple((other if i % 2 else main, 1.0 / count) for i in range(count))


def _trill(pitch: Pitch, key: Key, duration_s: float) -> Row:
    upper = neighbour(pitch, key, above=True)
    return _to_and_fro(pitch.midi, upper, duration_s, _TRILL_NOTES_PER_S)


def _shake(pitch: Pitch, key: Key, duration_s: float) -> Row:
    """Go to and fro as a trill does, but wide: brass over a partial, reeds over a third."""
    scale = {name.pitch_class for name in key.scale}
    steps = (midi for midi in range(pitch.midi + 1, pitch.midi + 13) if midi % 12 in scale)
    _, third, *_ = steps
    return _to_and_fro(pitch.midi, third, duration_s, _SHAKE_NOTES_PER_S)


def _mordent(pitch: Pitch, key: Key, duration_s: float, *, above: bool = False) -> Row:
    quick, main = _quick(duration_s), pitch.midi
    beside = neighbour(pitch, key, above=above)
    return ((main, quick), (beside, quick), (main, 1.0 - 2 * quick))


def _turn(pitch: Pitch, key: Key, duration_s: float, *, inverted: bool = False) -> Row:
    quick, main = _quick(duration_s), pitch.midi
    first = neighbour(pitch, key, above=not inverted)
    last = neighbour(pitch, key, above=inverted)
    return ((first, quick), (main, quick), (last, quick), (main, 1.0 - 3 * quick))


def _delayed_turn(pitch: Pitch, key: Key, duration_s: float) -> Row:
    """Hold the note first; the turn leads to the next one."""
    quick, main = _quick(duration_s), pitch.midi
    upper, lower = (neighbour(pitch, key, above=above) for above in (True, False))
    row = ((upper, quick), (main, quick), (lower, quick), (main, quick))
    return ((main, 1.0 - 4 * quick), *row)


_PLAYED: dict[str, Callable[[Pitch, Key, float], Row]] = {
    "trill-mark": _trill,
    "shake": _shake,
    # In MusicXML's words a mordent goes down, an inverted one up.
    "mordent": _mordent,
    "inverted-mordent": partial(_mordent, above=True),
    "turn": _turn,
    "inverted-turn": partial(_turn, inverted=True),
    "delayed-turn": _delayed_turn,
}


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
        # Slowly out of the note, then faster, as lip or fingers let go.
        into += [(start + tail * i / 8, target * (i / 8) ** 1.5) for i in range(9)]
    return tuple(into)


def vibrato(duration_s: float, cents: float) -> Curve:
    """Give a slowly growing vibrato for a long note, empty for a short one.

    Parameters
    ----------
    duration_s : float
        How long the note sounds.
    cents : float
        How far it goes each way; 0 for none.
    """
    # A player begins straight and lets the note move later (common practice).
    settle = 0.45
    if duration_s < 0.9 or not cents:
        return ()
    points: list[tuple[float, float]] = []
    for step in range(int((duration_s - settle) * 40)):
        at = step / 40
        depth = cents / 100 * min(1.0, at / 0.6)
        points.append((settle + at, depth * math.sin(2 * math.pi * _VIBRATO_HZ * at)))
    return (*points, (duration_s, 0.0)) if points else ()
