"""What does the drummer play, and how does the form become audible in it?

The feel's pattern keeps time; a fill in the last two beats of a bar announces a section,
a bigger one a chorus and the last section; a cymbal opens it, where the feel has one. What
the feel `keeps` goes on through a fill: a clave or a bell does not stop for it. In
stop-time only the first beat is struck; where fours are traded the drummer plays alone.
Voices are named here and mapped to General MIDI percussion keys in one table.

Source: General MIDI level 1 percussion key map, with the sticks, brush tap and sweep of
the Roland GS / GM 2 kits; patterns are common practice.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from fractions import Fraction

from kit.band._figures import drum_patterns
from kit.band._fills import Fills
from kit.band.chart import ChartBar
from kit.band.events import PartNote
from kit.band.feel import Hit

__all__ = ["VOICES", "keep_time"]

VOICES = {
    "kick": 36,
    "clap": 39,
    "floor_tom": 41,
    "side_stick": 37,
    "snare": 38,
    # A brush kit has its tap on the snare's key: the feel's kit says which one sounds.
    "brush_tap": 38,
    "brush_sweep": 40,
    "hihat": 42,
    "hihat_foot": 44,
    "low_tom": 45,
    "hihat_open": 46,
    "mid_tom": 47,
    "high_tom": 48,
    "crash": 49,
    "ride": 51,
    "ride_bell": 53,
    "tambourine": 54,
    "cowbell": 56,
    "conga_mute": 62,
    "conga": 63,
    "conga_low": 64,
    "timbale": 65,
    "agogo": 67,
    "agogo_low": 68,
    "cabasa": 69,
    "maracas": 70,
    "guiro_short": 73,
    "guiro_long": 74,
    "claves": 75,
    "triangle_mute": 80,
    "triangle": 81,
}
_STROKE = Fraction(1, 4)
_LIGHT = 0.58
"""Fullness of a first head up to its last bars."""


def keep_time(bars: Sequence[ChartBar], *, rng: random.Random) -> list[PartNote]:
    """Write the drum part of all bars but the final one, which `ending` writes."""
    notes: list[PartNote] = []
    fills = Fills(rng)
    for bar in bars:
        if bar.is_final:
            break
        for at, hit in _bar_hits(bar, rng, fills):
            velocity = round(hit.velocity * (0.88 + 0.16 * bar.fullness)) + rng.randrange(
                -3, 4
            )
            notes.append(_stroke(at, hit.voice, velocity))
        # The first time through is light: no crash yet. Nor where not all of them play.
        plays = bar.fullness > _LIGHT and bar.band in ("full", "double-time")
        if bar.feel.crash and bar.opens_section and plays:
            # One hand plays both cymbals.
            notes = [n for n in notes if (n.midi, n.start) != (VOICES["ride"], bar.start)]
            notes.append(PartNote(bar.start, _STROKE, VOICES["crash"], 62))
    return _once(notes)


def _bar_hits(
    bar: ChartBar, rng: random.Random, fills: Fills
) -> Iterator[tuple[Fraction, Hit]]:
    """Give (position, hit) pairs."""
    if bar.band == "drums":
        yield from fills.alone(bar)
    elif bar.band == "stop-time":
        yield from _stop(bar)
    elif bar.band != "silent":
        yield from _in_time(bar, rng, fills)


def _stop(bar: ChartBar) -> Iterator[tuple[Fraction, Hit]]:
    """Give what is struck on the first beat, with the kick, where the feel has drums."""
    first = drum_patterns(bar, 0)[0]
    if first:
        yield bar.start, Hit("kick", Fraction(0), 72)
        yield from ((bar.start, hit) for hit in first if hit.at == 0)


def _in_time(
    bar: ChartBar, rng: random.Random, fills: Fills
) -> Iterator[tuple[Fraction, Hit]]:
    fill = fills.ending(bar)
    fill_from = bar.end
    if fill:
        # It begins with its beat, even where its first stroke does not.
        first = min(at for at, _ in fill)
        fill_from = max(start for start in bar.felt_starts if start <= first)
        yield from fill
    beat = 0
    for index, group in enumerate(bar.groups):
        for hit in rng.choice(drum_patterns(bar, index)):
            at = bar.moment(beat + hit.at)
            goes_on = at < fill_from or hit.voice in bar.feel.keeps
            if hit.at < group and goes_on and at < bar.end:
                yield at, hit
        beat += group


def _stroke(start: Fraction, voice: str, velocity: int) -> PartNote:
    return PartNote(start, _STROKE, VOICES[voice], max(1, min(127, velocity)))


def _once(notes: list[PartNote]) -> list[PartNote]:
    """Keep the loudest of strokes on the same key at the same moment."""
    loudest: dict[tuple[Fraction, int], PartNote] = {}
    for note in notes:
        place = (note.start, note.midi)
        if place not in loudest or loudest[place].velocity < note.velocity:
            loudest[place] = note
    return sorted(loudest.values(), key=lambda note: (note.start, note.midi))
