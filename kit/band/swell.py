"""How does one sound grow and fade while it lasts?

A long note blooms: it begins a little under its level and is let go softly. An accent falls
back behind its attack. A hairpin goes through the note. A fall dies away. The curves add up
in decibels; the velocity is that of the loudest moment, and the *swell* says how far below
it the rest lies, because a channel's expression can only take away.

Source: a swell and a taper on each long note as wind tutors teach them (common practice);
sizes are our own choice.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

__all__ = ["Curve", "level_at", "summed", "swell_of"]

Curve = tuple[tuple[float, float], ...]
"""Corners of (seconds from the onset, decibels), in order."""

_LONG_S = 0.6
_BLOOM_DB, _BLOOM_S = -2.5, 0.35
_TAPER_DB, _TAPER_S = -3.0, 0.16
_DECAY_S = 0.22
_FALL_DB, _FALL_S = -14.0, 0.25
_EVEN_DB = 0.3
"""What stays within it needs no curve."""


def swell_of(
    length_s: float,
    *,
    decay_db: float = 0.0,
    joined: bool = False,
    joins: bool = False,
    falls: bool = False,
) -> Curve:
    """Give the shape of a note by itself, against its own level.

    Parameters
    ----------
    length_s : float > 0
        How long it sounds.
    decay_db : float >= 0
        How far it falls behind its attack.
    joined, joins : bool
        Whether it is slurred to the note before, and on to the next: there it neither
        blooms nor fades.
    falls : bool
        Whether it dies away at its end.
    """
    if falls:
        start = max(0.0, length_s - _FALL_S)
        return ((0.0, 0.0), (start, 0.0), (length_s, _FALL_DB))
    if decay_db:
        settled = min(_DECAY_S, length_s / 2)
        return ((0.0, 0.0), (settled / 3, 0.0), (settled, -decay_db), (length_s, -decay_db))
    if length_s < _LONG_S:
        return ()
    bloomed = min(_BLOOM_S, 0.4 * length_s)
    let_go = max(bloomed, length_s - _TAPER_S)
    return (
        (0.0, 0.0 if joined else _BLOOM_DB),
        (bloomed, 0.0),
        (let_go, 0.0),
        (length_s, 0.0 if joins else _TAPER_DB),
    )


def level_at(curve: Curve, at_s: float) -> float:
    """Give a curve's level at a moment; 0 for an empty curve."""
    if not curve:
        return 0.0
    place = bisect_right([corner for corner, _ in curve], at_s)
    if place == 0:
        return curve[0][1]
    if place == len(curve):
        return curve[-1][1]
    (start, low), (stop, high) = curve[place - 1], curve[place]
    return low + (high - low) * (at_s - start) / (stop - start)


def summed(curves: Sequence[Curve]) -> tuple[float, Curve]:
    """Add curves up: the loudest level, and what stays below it.

    Returns
    -------
    (float, Curve)
        Decibels, and the curve against them, 0 or less; empty where it is even.
    """
    corners = sorted({at for curve in curves for at, _ in curve})
    rows = [(at, sum(level_at(curve, at) for curve in curves)) for at in corners]
    loudest = max((level for _, level in rows), default=0.0)
    below = tuple((at, level - loudest) for at, level in rows)
    if all(level > -_EVEN_DB for _, level in below):
        return loudest, ()
    return loudest, below
