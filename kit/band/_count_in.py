"""How is the tempo given before the music, and kept by a click under it?

Sticks count every beat; at fast tempi the first of two bars is counted in halves
("one, two, one two three four"), so that it can be spoken. The metronome click marks the
bar line with a higher tone. Neither is swung or humanised.

Source: common practice; keys of the General MIDI percussion map (sticks: GS and GM 2).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from kit.band.chart import ChartBar, beat_of
from kit.band.events import PartNote
from kit.route.plan import PerformedBar

__all__ = ["click", "count_in"]

_STICKS = 31
# High and low wood block.
_HIGH_CLICK, _LOW_CLICK = 76, 77
_FAST_BPM = 168.0
_TAP = Fraction(1, 8)


def count_in(
    bars: Sequence[PerformedBar], *, tempo_qpm: float, uneven: Sequence[int] = ()
) -> list[PartNote]:
    """Give the stick clicks of the count-in bars.

    Parameters
    ----------
    bars : sequence of PerformedBar
        Bars of the count-in.
    tempo_qpm : float > 0
        Quarter notes a minute.
    uneven : sequence of int
        Groups of eighths of a meter that has such; sticks count these, not eighths.
    """
    notes: list[PartNote] = []
    for index, bar in enumerate(bars):
        beat = beat_of(bar.meter)
        beats = int(bar.length / beat)
        in_halves = (
            index + 1 < len(bars) and beats == 4 and tempo_qpm / float(beat) >= _FAST_BPM
        )
        starts = [sum(uneven[:index]) for index in range(len(uneven))]
        for place in starts or range(0, beats, 2 if in_halves else 1):
            velocity = 116 if place == 0 else 100
            notes.append(PartNote(bar.start + place * beat, _TAP, _STICKS, velocity))
    return notes


def click(bars: Sequence[ChartBar]) -> list[PartNote]:
    """Give a metronome click on every felt beat of the music."""
    return [
        PartNote(
            start,
            _TAP,
            _LOW_CLICK if beat else _HIGH_CLICK,
            76 if beat else 92,
        )
        for bar in bars
        for beat, start in enumerate(_clicked(bar))
    ]


def _clicked(bar: ChartBar) -> list[Fraction]:
    """Give the felt beats of a bar; double time is a feel, and its beat stays."""
    beat = beat_of(bar.meter, bar.feel)
    return [
        start
        for start in bar.felt_starts
        if bar.is_uneven or (start - bar.start) % beat == 0
    ]
