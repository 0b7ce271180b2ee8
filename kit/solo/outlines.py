"""Which line spells the chords out, for the fingers to know them?

Chord notes in quarter notes, in turn upward and downward, each chord entered on the note
nearest to where the line is. Conventions: as `kit.solo.guide_tones`.

Source: common practice of jazz teaching (arpeggio exercises).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from kit.levels.rewrite import Sound, bar_starts, silent, sounds_of, with_sounds
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Pitch

__all__ = ["chord_outline_line"]

_SMALLEST_COMPASS = 19
"""A seventh chord needs room to be climbed from its root: a twelfth."""


def chord_outline_line(sheet: Tune) -> Tune:
    """Write the chord notes of a sheet's changes as a line in the beats of its meter.

    Parameters
    ----------
    sheet : Tune
        Whose bars and changes are taken, in any key; the line stays near its melody.
    """
    heights = sorted(sound.pitch.midi for sound in sounds_of(sheet)) or [60, 76]
    short = max(0, _SMALLEST_COMPASS - (heights[-1] - heights[0]))
    low, high = heights[0] - short // 2, heights[-1] + (short + 1) // 2
    now: Pitch | None = None
    rising = True
    sounds: list[Sound] = []
    for start, end, symbol, pulse in _stretches(sheet):
        ladder = _ladder(symbol, low, high)
        if not ladder:
            now = None
            continue
        place = _entry(ladder, now, symbol)
        moment = start
        while moment < end:
            now = ladder[place]
            sounds.append(Sound(moment, min(pulse, end - moment), now))
            moment += pulse
            if not 0 <= place + (1 if rising else -1) < len(ladder):
                rising = not rising
            place += 1 if rising else -1
    blank = replace(sheet, bars=tuple(silent(bar) for bar in sheet.bars))
    return with_sounds(blank, sounds)


def _stretches(
    sheet: Tune,
) -> Iterator[tuple[Fraction, Fraction, ChordSymbol, Fraction]]:
    """Give each chord with its time, begun anew at every bar, and the beat; no pick-ups."""
    for index, (bar, begin) in enumerate(zip(sheet.bars, bar_starts(sheet), strict=False)):
        if bar.pickup:
            continue
        events = [e for e in sheet.chords_in_force(index) if e.onset < bar.length]
        ends = [*(event.onset for event in events[1:]), bar.length]
        for event, end in zip(events, ends, strict=False):
            if end > event.onset:
                yield begin + event.onset, begin + end, event.symbol, bar.meter.pulse


def _ladder(symbol: ChordSymbol, low: int, high: int) -> list[Pitch]:
    every = (
        Pitch(name.step, name.alter, octave)
        for name in symbol.note_names
        for octave in range(10)
    )
    return sorted(pitch for pitch in every if low <= pitch.midi <= high)


def _entry(ladder: list[Pitch], now: Pitch | None, symbol: ChordSymbol) -> int:
    """Begin on the lowest root, later on the nearest other note."""
    if now is None:
        roots = [k for k, pitch in enumerate(ladder) if pitch.name == symbol.root]
        return roots[0] if roots else 0
    height = now.midi
    return min(
        range(len(ladder)),
        key=lambda k: (ladder[k].midi == height, abs(ladder[k].midi - height)),
    )
