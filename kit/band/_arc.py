"""How full does the band play, bar by bar, and where does the drummer fill?

An arranger's curve over the choruses: a light first head, solos that rise from one to the
next and follow how much the soloist plays, a last head between the two, the tag in full; a
vamp is left lighter each time. Within a chorus the last section is a shade fuller than the
first. Fills are bigger before a chorus than before a section.

A *chorus* here is a stretch of the route in one role (head, solo, …) and in the order of
the form: it ends where the role changes or the form begins again.

Source: common practice; the numbers are our own.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate, pairwise

from kit.band.events import PartNote
from kit.route.plan import PerformedBar

__all__ = ["choruses", "intensities"]

_INTRO, _FIRST_HEAD, _SECOND_HEAD, _LAST_HEAD, _TAG = 0.45, 0.5, 0.62, 0.78, 1.0
_FIRST_SOLO, _LAST_SOLO, _ONLY_SOLO = 0.74, 0.94, 0.86
_VAMP, _VAMP_STEP, _VAMP_END = 0.85, 0.12, 0.4
_RISE = 0.06
"""From the first bar of a chorus to its last."""
_USUAL_DENSITY = 1.3
"""Notes a beat of a solo that is neither sparse nor busy."""
_DENSITY_WEIGHT, _DENSITY_MOST = 0.12, 0.12
_WINDOW = 4


def choruses(bars: Sequence[PerformedBar]) -> list[int]:
    """Give the number of the chorus of each bar, from 0.

    Parameters
    ----------
    bars : sequence of PerformedBar
        As played, pick-ups left out.
    """
    begins = [0] + [
        int(
            bar.kind != before.kind
            or bar.melody != before.melody
            or bar.form_index <= before.form_index
        )
        for before, bar in pairwise(bars)
    ]
    return list(accumulate(begins))


def intensities(bars: Sequence[PerformedBar], melody: Sequence[PartNote]) -> list[float]:
    """Say how full each bar is played, from 0 to 1.

    Parameters
    ----------
    bars : sequence of PerformedBar
        As played, pick-ups left out, not empty.
    melody : sequence of PartNote
        The melody as performed, in order; a written solo is heard in it.
    """
    numbers = choruses(bars)
    groups = [
        [bar for bar, number in zip(bars, numbers, strict=True) if number == n]
        for n in range(numbers[-1] + 1)
    ]
    bases = _bases(groups)
    starts = [note.start for note in melody]
    told: list[float] = []
    for group, base in zip(groups, bases, strict=True):
        for place, bar in enumerate(group):
            level = base
            if bar.kind != "tag":
                level += _RISE * (place / max(1, len(group) - 1) - 0.5) * (len(group) > 4)
            if bar.kind == "solo" and bar.melody:
                level += _from_density(group, place, starts)
            told.append(min(1.0, max(0.0, level)))
    return told


def _bases(groups: Sequence[Sequence[PerformedBar]]) -> list[float]:
    """Give the level of each chorus from its place among those of its role."""
    solos = sum(group[0].kind == "solo" for group in groups)
    seen = {"intro": 0, "head": 0, "solo": 0, "tag": 0}
    vamps = 0
    bases: list[float] = []
    for group in groups:
        kind = group[0].kind
        if kind == "intro":
            base = _INTRO
        elif kind == "head":
            base = _LAST_HEAD if seen["solo"] else _FIRST_HEAD
            if seen["head"] and not seen["solo"]:
                base = _SECOND_HEAD
        elif kind == "solo":
            rise = (_LAST_SOLO - _FIRST_SOLO) * seen["solo"] / max(1, solos - 1)
            base = _FIRST_SOLO + rise if solos > 1 else _ONLY_SOLO
        elif group[0].melody:
            base = _TAG
        else:
            base = max(_VAMP_END, _VAMP - _VAMP_STEP * vamps)
            vamps += 1
        seen[kind] += 1
        bases.append(base)
    return bases


def _from_density(
    group: Sequence[PerformedBar], place: int, starts: Sequence[Fraction]
) -> float:
    """Say how much more or less a written solo asks for around one of its bars."""
    first = max(0, min(place - place % _WINDOW, len(group) - _WINDOW))
    window = group[first : first + _WINDOW]
    begin, end = window[0].start, window[-1].end
    notes = bisect_left(starts, end) - bisect_left(starts, begin)
    beats = (end - begin) / window[0].meter.pulse
    more = _DENSITY_WEIGHT * (notes / float(beats) - _USUAL_DENSITY)
    return min(_DENSITY_MOST, max(-_DENSITY_MOST, more))
