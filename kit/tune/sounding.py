"""What sounds: symbols joined by ties, one sound each.

Conventions are those of `kit.tune.model`: bars are indices, times quarter notes from the
start of the bar.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.tune.model import Bar, Note
from kit.tune.pitch import Pitch

__all__ = ["SoundingNote", "sounding"]


@dataclass(frozen=True, slots=True)
class SoundingNote:
    """A sound: tied symbols joined.

    `bar` is the index of the bar in which it starts, `onset` its place there; `duration`
    may reach over bar lines. `position` is the index of its first symbol in the bar.
    `written` is that symbol, `closing` the last one of the tie: a fall or a breath mark
    stands there.
    """

    bar: int
    position: int
    onset: Fraction
    duration: Fraction
    pitch: Pitch
    written: Note
    closing: Note


def sounding(bars: tuple[Bar, ...]) -> Iterator[SoundingNote]:
    """Yield the sounds of consecutive bars in order, ties joined.

    A tie whose continuation is missing or of another pitch ends with its own symbol.
    """
    held: SoundingNote | None = None
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            # A tie joins a pitch with itself; to another pitch it would be a slur.
            if held is not None and note.pitch == held.pitch:
                held = replace(held, duration=held.duration + note.duration, closing=note)
            else:
                if held is not None:
                    yield held
                    held = None
                if note.pitch is None:
                    continue
                held = SoundingNote(
                    index, position, note.onset, note.duration, note.pitch, note, note
                )
            if not note.tied:
                yield held
                held = None
    if held is not None:
        yield held
