"""Octave signs of a part: for the eye, and for a player who wants the passage elsewhere.

Conventions
-----------
* ``8va`` is written over a passage that needs five ledger lines or more above the staff; it
  covers the neighbours that need three. The notes stay the same sounds.
* ``8vb ad lib.`` below a passage, or ``8va ad lib.`` above it, offers a passage that leaves
  the level's comfortable range in the octave in which it lies well: the ossia of a lead
  sheet. It takes a passage of some length, and two of them at most in a quarter of the
  playing time: a single note is not worth a sign, and where there would be more, the level
  is wrong and not a passage.
* A part at the sheet's own pitch keeps the octave signs that the sheet has; in any other
  part they are decided anew, because they belong to the place on the staff.

Source: common practice; the numbers of ledger lines as in Gould, *Behind Bars* (2011),
"Octave signs" (from memory); length and number of passages are our own choice.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.instruments._moves import NotePlace, OctaveMove, folded_passages
from kit.instruments._phrases import Placed, rows
from kit.instruments.table import Instrument, Range
from kit.tune.model import Bar, SpanEnd, SpanKind
from kit.tune.musicxml.write import CLEFS

__all__ = ["OctaveSign", "high_passages", "optional_passages", "with_octave_signs",
           "without_octave_signs"]  # fmt: skip

_LINE_OF_SIGN = {"G": 32, "F": 24, "C": 28}
"""The place of the line that a clef names, as `Pitch.diatonic` counts: G4, F3, C4."""
# Staff steps above the top line, two to a ledger line: five of them, and three.
_FAR_STEPS = 10
_HIGH_STEPS = 6
_MOST_UNDER_SIGN = Fraction(1, 4)
_MOST_SIGNS = 2
_SHORTEST = Fraction(2)
_FEWEST_NOTES = 3
_OCTAVE_KINDS = frozenset(
    {"8va", "8vb", "15ma", "15mb", "optional 8va", "optional 8vb"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class OctaveSign:
    """A sign over or under notes, both ends included."""

    first: NotePlace
    last: NotePlace
    kind: SpanKind


def high_passages(bars: Sequence[Bar], clef: str) -> tuple[OctaveSign, ...]:
    """Find what is written so high that it reads better under 8va."""
    top = _top_line(clef)
    signs: list[OctaveSign] = []
    for row in rows(bars):
        run: list[Placed] = []
        for placed in (*row, None):
            if placed is not None and _steps_above(placed, top) >= _HIGH_STEPS:
                run.append(placed)
                continue
            if any(_steps_above(each, top) >= _FAR_STEPS for each in run):
                signs.append(OctaveSign(_place(run[0]), _place(run[-1]), "8va"))
            run = []
    return tuple(signs)


def optional_passages(
    bars: Sequence[Bar], instrument: Instrument, level: str
) -> tuple[OctaveSign, ...]:
    """Find the passages that a player of a level may take in another octave."""
    comfortable = instrument.comfortable_range(level)
    signs: list[OctaveSign] = []
    covered = total = Fraction(0)
    for row in rows(bars):
        total += sum((placed.note.duration for placed in row), Fraction(0))
        for way, kind in _ways(row, comfortable):
            moves = folded_passages(row, comfortable, (0, way))
            spans = _spans(row, moves)
            if not _all_fit(row, moves, spans, comfortable):
                continue
            for move, span in zip(moves, spans, strict=True):
                inside = row[span]
                length = sum((p.note.duration for p in inside), Fraction(0))
                if len(inside) < _FEWEST_NOTES or length < _SHORTEST:
                    continue
                covered += length
                signs.append(OctaveSign(move.first, move.last, kind))
            break
    few = len(signs) <= _MOST_SIGNS and covered <= _MOST_UNDER_SIGN * total
    return tuple(signs) if few else ()


def _ways(row: Sequence[Placed], comfortable: Range) -> list[tuple[int, SpanKind]]:
    """Give the octaves that may help a phrase: down where it is too high."""
    high = any(p.midi > comfortable.high.midi for placed in row for p in placed.pitches)
    low = any(p.midi < comfortable.low.midi for placed in row for p in placed.pitches)
    if high and not low:
        return [(-1, "optional 8vb")]
    if low and not high:
        return [(1, "optional 8va")]
    return []


def _spans(row: Sequence[Placed], moves: Sequence[OctaveMove]) -> list[slice]:
    """Give the notes of a phrase that each move takes, as slices of it."""
    places = [_place(placed) for placed in row]
    return [
        slice(bisect_left(places, move.first), bisect_right(places, move.last))
        for move in moves
    ]


def _all_fit(
    row: Sequence[Placed],
    moves: Sequence[OctaveMove],
    spans: Sequence[slice],
    within: Range,
) -> bool:
    """Say whether a sign leaves nothing of a phrase uncomfortable."""
    octaves = [0] * len(row)
    for move, span in zip(moves, spans, strict=True):
        for place in range(*span.indices(len(row))):
            octaves[place] += move.octaves
    return all(
        within.low.midi <= pitch.midi + 12 * count <= within.high.midi
        for placed, count in zip(row, octaves, strict=True)
        for pitch in placed.pitches
    )


def with_octave_signs(bars: Sequence[Bar], signs: Sequence[OctaveSign]) -> tuple[Bar, ...]:
    """Put signs into the bars."""
    signed = list(bars)
    for sign in signs:
        first, last = sign.first, sign.last
        start = bars[first[0]].notes[first[1]].onset
        end = bars[last[0]].notes[last[1]].end
        _add(signed, first[0], SpanEnd(start, sign.kind, opens=True))
        _add(signed, last[0], SpanEnd(end, sign.kind, opens=False))
    return tuple(signed)


def without_octave_signs(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """Take all octave signs out of the bars."""
    return tuple(
        replace(bar, spans=tuple(e for e in bar.spans if e.kind not in _OCTAVE_KINDS))
        if bar.spans
        else bar
        for bar in bars
    )


def _add(bars: list[Bar], index: int, end: SpanEnd) -> None:
    # False sorts first: one line closes before another opens at the same moment.
    spans = sorted((*bars[index].spans, end), key=lambda e: (e.onset, e.opens, e.kind))
    bars[index] = replace(bars[index], spans=tuple(spans))


def _place(placed: Placed) -> NotePlace:
    return placed.bar, placed.position


def _top_line(clef: str) -> int:
    # From the clef's line to the fifth; an octave clef moves the whole staff.
    sign, line, octaves = CLEFS[clef]
    return _LINE_OF_SIGN[sign] + 2 * (5 - line) + 7 * octaves


def _steps_above(placed: Placed, top: int) -> int:
    assert placed.note.pitch is not None
    return placed.note.pitch.diatonic - top
