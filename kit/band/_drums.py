"""What does the drummer play, and how does the form become audible in it?

The feel's pattern keeps time; a fill in the last two beats of a bar announces a section,
a bigger one the last section; a cymbal opens it. Voices are named here and mapped to
General MIDI percussion keys in one table.

Source: General MIDI level 1 percussion key map, with the sticks, brush tap and sweep of
the Roland GS / GM 2 kits; patterns are common practice.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from fractions import Fraction

from kit.band.chart import ChartBar
from kit.band.events import PartNote
from kit.band.feel import Hit, beat_groups

__all__ = ["VOICES", "keep_time"]

VOICES = {
    "kick": 36,
    "side_stick": 37,
    "snare": 38,
    # A brush kit has its tap on the snare's key: the feel's kit says which one sounds.
    "brush_tap": 38,
    "brush_sweep": 40,
    "hihat": 42,
    "hihat_foot": 44,
    "low_tom": 45,
    "mid_tom": 47,
    "high_tom": 48,
    "crash": 49,
    "ride": 51,
}
_STROKE = Fraction(1, 4)
_FILL_BEATS = 2


def keep_time(bars: Sequence[ChartBar], *, rng: random.Random) -> list[PartNote]:
    """Write the drum part of all bars but the final one, which `ending` writes."""
    notes: list[PartNote] = []
    for bar in bars:
        if bar.is_final:
            break
        for at, hit in _bar_hits(bar, rng):
            velocity = round(hit.velocity * (0.88 + 0.16 * bar.fullness)) + rng.randrange(
                -3, 4
            )
            notes.append(_stroke(bar, at, hit.voice, velocity))
        # The first time through is light (0.5): no crash yet.
        if bar.opens_section and bar.fullness > 0.5:
            # One hand plays both cymbals.
            notes = [n for n in notes if (n.midi, n.start) != (VOICES["ride"], bar.start)]
            notes.append(PartNote(bar.start, _STROKE, VOICES["crash"], 62))
    return _once(notes)


def _bar_hits(bar: ChartBar, rng: random.Random) -> Iterator[tuple[Fraction, Hit]]:
    """Give (place in beats from the bar line, hit) pairs."""
    fill_from = Fraction(bar.beats)
    if bar.fill and bar.beats >= _FILL_BEATS:
        fill_from -= _FILL_BEATS
        for hit in rng.choice(bar.feel.fills[bar.fill]):
            yield fill_from + hit.at, hit
    beat = 0
    for group in beat_groups(bar.beats):
        for hit in rng.choice(bar.feel.drums[max(2, group)]):
            at = beat + hit.at
            if hit.at < group and at < fill_from and at * bar.pulse < bar.length:
                yield at, hit
        beat += group


def _stroke(bar: ChartBar, at: Fraction, voice: str, velocity: int) -> PartNote:
    key = VOICES[voice]
    return PartNote(bar.start + at * bar.pulse, _STROKE, key, max(1, min(127, velocity)))


def _once(notes: list[PartNote]) -> list[PartNote]:
    """Keep the loudest of strokes on the same key at the same moment."""
    loudest: dict[tuple[Fraction, int], PartNote] = {}
    for note in notes:
        place = (note.start, note.midi)
        if place not in loudest or loudest[place].velocity < note.velocity:
            loudest[place] = note
    return sorted(loudest.values(), key=lambda note: (note.start, note.midi))
