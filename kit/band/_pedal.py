"""Where does the tune have a pedal, and what does the bass play on it?

A pedal is a bass note that stays while the chords above it change. In the changes it shows
as slash chords: two or more different chords in a row over one bass note that is not the
root of all of them. On it the bass repeats the note with a rhythm of its own, and leaves
the walking to the chords.

Source: common practice.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction
from itertools import groupby
from typing import Protocol

from kit.band.events import PartNote
from kit.tune.chord import ChordSymbol

__all__ = ["PedalBar", "pedal_places", "play_pedal"]

_FIGURES: tuple[tuple[Fraction, ...], ...] = (
    (Fraction(0), Fraction(3, 2)),
    (Fraction(0), Fraction(3, 2), Fraction(3)),
    (Fraction(0), Fraction(2), Fraction(3)),
)
"""Places in beats; what lies past a shorter bar is left out."""


class PedalBar(Protocol):
    """What of a bar the pedal needs."""

    @property
    def start(self) -> Fraction:
        """Where the bar begins."""
        ...

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        ...

    @property
    def is_uneven(self) -> bool:
        """Whether its beats are of two and three eighths."""
        ...

    @property
    def felt_starts(self) -> tuple[Fraction, ...]:
        """Where its felt beats begin."""
        ...

    def moment(self, beat: Fraction) -> Fraction:
        """Turn a number of beats from its start into a position."""
        ...


def pedal_places(symbols: Sequence[ChordSymbol | None]) -> tuple[bool, ...]:
    """Say for each change whether the bass holds a pedal under it.

    Examples
    --------
    >>> from kit.tune.pitch import NoteName
    >>> g, d, c = NoteName("G"), NoteName("D"), NoteName("C")
    >>> pedal_places([ChordSymbol(d, "minor", bass=g), ChordSymbol(g, "dominant")])
    (True, True)
    >>> pedal_places([ChordSymbol(g, "dominant"), ChordSymbol(c, "major", bass=g), None])
    (True, True, False)
    >>> pedal_places([ChordSymbol(g, "dominant"), ChordSymbol(g, "minor")])
    (False, False)
    """
    places: list[bool] = []
    for bass, run in groupby(symbols, key=_bass_class):
        chords = list(run)
        roots = {c.root.pitch_class for c in chords if c is not None and c.root is not None}
        # Chords that are all over their own root change their colour, not their bass.
        is_pedal = bass is not None and len(set(chords)) > 1 and roots != {bass}
        places += [is_pedal] * len(chords)
    return tuple(places)


def play_pedal(
    bars: Sequence[PedalBar], pitch: int, *, rng: random.Random
) -> list[PartNote]:
    """Repeat a note through bars; each bar begins with it."""
    notes: list[PartNote] = []
    for bar in bars:
        figure = rng.choice(_FIGURES)
        # Where beats are uneven the bass marks them all.
        places = list(bar.felt_starts) if bar.is_uneven else [*map(bar.moment, figure)]
        places = [place for place in places if place < bar.end]
        for start, stop in zip(places, [*places[1:], bar.end], strict=True):
            level = (86 if start == bar.start else 76) + rng.randrange(-3, 4)
            notes.append(PartNote(start, (stop - start) * 9 / 10, pitch, level))
    return notes


def _bass_class(symbol: ChordSymbol | None) -> int | None:
    if symbol is None:
        return None
    name = symbol.bass or symbol.root
    return name.pitch_class if name is not None else None
