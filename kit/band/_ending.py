"""How does the band finish together?

On the first beat of the last bar everyone plays the last chord and lets it ring past the
end of the route (``ring``), or damps it after a beat (``stop``). The map of bars and
seconds is the same either way.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Literal

from kit.band._drums import VOICES
from kit.band._pattern_bass import BASS_RANGE, bass_class, nearest
from kit.band._voicing import voice
from kit.band.chart import ChartBar
from kit.band.events import PartNote

__all__ = ["Ending", "final_bass", "final_chord", "final_drums"]

Ending = Literal["ring", "stop"]


def _length(bar: ChartBar, start: Fraction, ending: Ending, tempo_qpm: float) -> Fraction:
    if ending == "stop":
        return min(bar.pulse / 2, bar.end - start)
    # Turned into quarters here, so that it rings as long at every tempo.
    ring_s = Fraction(6, 5)
    return bar.end - start + ring_s * Fraction(tempo_qpm).limit_denominator(100) / 60


def final_bass(
    bar: ChartBar, ending: Ending, tempo_qpm: float, *, after: int | None = None
) -> list[PartNote]:
    """Give the bass's last note or notes, one for each chord left in the bar."""
    notes: list[PartNote] = []
    last = after if after is not None else sum(BASS_RANGE) // 2
    for change in bar.changes:
        if change.symbol is not None:
            last = nearest(bass_class(change.symbol), last)
            length = change.end - change.start
            if change.end == bar.end:
                length = _length(bar, change.start, ending, tempo_qpm)
            notes.append(PartNote(change.start, length, last, 88))
    return notes


def final_chord(
    bar: ChartBar,
    ending: Ending,
    tempo_qpm: float,
    *,
    before: Sequence[int],
    melody: Sequence[PartNote],
) -> list[PartNote]:
    """Give the last chord or chords."""
    notes: list[PartNote] = []
    for change in bar.changes:
        if change.symbol is None:
            continue
        length = change.end - change.start
        if change.end == bar.end:
            length = _length(bar, change.start, ending, tempo_qpm)
        heard = [n.midi for n in melody if n.start < change.end and n.end > change.start]
        before = voice(
            change.symbol, before=before, melody=heard, key=bar.key,
            tensions=bar.feel.tensions,
        )  # fmt: skip
        held = length if change.end == bar.end else length * 19 / 20
        notes.extend(PartNote(change.start, held, midi, 72) for midi in before)
    return notes


def final_drums(bar: ChartBar) -> list[PartNote]:
    """Give the last stroke: kick and cymbal together, where the feel has drums."""
    if not any(hits for patterns in bar.feel.drums.values() for hits in patterns):
        return []
    tap = Fraction(1, 4)
    strokes = [("kick", 66), ("ride", 84), ("crash", 58)]
    return [PartNote(bar.start, tap, VOICES[voice], level) for voice, level in strokes]
