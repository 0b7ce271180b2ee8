"""What tune does the MusicXML say that music21 has written?

music21 counts in floating point and cuts off what is left over, so that a chord symbol
between two notes of a triplet comes a ten-thousandth of a quarter late. Such a place is put
right; nothing that is printed is that near to its neighbour.

Source: music21 10.5, `m21ToXml`, which has 10,080 divisions to the quarter note.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from kit.tune.model import Bar, ChordEvent, SpanEnd, Tune, Word
from kit.tune.music21._melody_score import MelodyScore
from kit.tune.musicxml.read import read_musicxml

__all__ = ["melody_tune"]

_Placed = TypeVar("_Placed", ChordEvent, Word, SpanEnd)
_FINEST = 96
"""Parts of a quarter note; the finest that two places in a bar of print differ by."""
_OFF_BY = Fraction(1, 10080)


def melody_tune(score: MelodyScore, *, source: str, keep_uneven: bool) -> Tune:
    """Read the melody that music21 has written.

    Raises
    ------
    NotationError
        If a bar does not add up.
    """
    tune = read_musicxml(score.musicxml, source=source, part="P1", keep_uneven=keep_uneven)
    return replace(
        tune,
        bars=tuple(_exact(bar) for bar in tune.bars),
        notices=(*score.notices, *tune.notices),
    )


def _exact(bar: Bar) -> Bar:
    return replace(
        bar,
        chords=tuple(map(_placed, bar.chords)),
        words=tuple(map(_placed, bar.words)),
        spans=tuple(map(_placed, bar.spans)),
    )


def _placed(sign: _Placed) -> _Placed:
    near = sign.onset.limit_denominator(_FINEST)
    return replace(sign, onset=near) if abs(near - sign.onset) <= _OFF_BY else sign
