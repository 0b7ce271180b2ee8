r"""A tune as a music21 score, and a music21 stream as a tune.

MusicXML is the bridge: both sides read and write it, and both are tested against each other
in it, so that there is no second list of what a note is. What passes over it, and what
music21 cannot hold, is in docs/developer/notation.md.

Examples
--------
>>> from kit.tune.abc.read import read_abc
>>> tune = read_abc("X:1\nL:1/4\nM:4/4\nK:F\n\"F\"F A c2|]", source="a.abc")
>>> score = to_music21(tune)
>>> score.analyze("ambitus").niceName
'Perfect Fifth'
>>> from_music21(score).bars == tune.bars
True
"""

from __future__ import annotations

import copy
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from kit.tune.model import Tune
from kit.tune.music21._melody_score import melody_score
from kit.tune.music21._melody_tune import melody_tune
from kit.tune.musicxml.write import Layout, write_musicxml

if TYPE_CHECKING:
    from music21.stream import Score, Stream

__all__ = ["from_music21", "to_music21"]

_SOURCE = "the music21 stream"


def to_music21(tune: Tune) -> Score:
    """Give a tune as a music21 score of one part, at concert pitch.

    Parameters
    ----------
    tune : Tune

    Raises
    ------
    ValueError
        If a note's length has no single symbol, or a key has more than seven accidentals.
    """
    from music21.converter import parseData  # noqa: PLC0415 - takes a second to load

    text = write_musicxml(tune, layout=Layout(bars_per_line=None))
    score: Any = parseData(text, format="musicxml")
    return score


def from_music21(
    stream: Stream[Any], *, part: str | None = None, keep_uneven: bool = False
) -> Tune:
    """Give the melody of a music21 stream with its changes, at concert pitch.

    Parameters
    ----------
    stream : music21.stream.Stream
        A score, a part, a measure or a flat stream; it is left as it is.
    part : str, optional
        Name of the melody part, or ``P2`` for the second; without it, see
        `kit.tune.musicxml.read_parts`.
    keep_uneven : bool
        Whether a bar that does not add up is given the meter it fills, not refused.

    Raises
    ------
    TypeError
        If it is no stream.
    NotationError
        If it has no notes or no such part, or a bar does not add up.
    """
    from music21.stream import Stream  # noqa: PLC0415 - takes a second to load

    if not isinstance(stream, Stream):
        raise TypeError(f"a music21 stream is needed, not {type(stream).__name__}")
    found = melody_score(copy.deepcopy(stream), part, source=_SOURCE)
    return replace(melody_tune(found, source=_SOURCE, keep_uneven=keep_uneven), source="")
