"""What speaks for a border between two sections, and what against?

Conventions
-----------
* Places are counted in full bars: a border at place 8 lies before the ninth full bar.
* *Evidence* of an ending is a number from 0 to 1, for the best endings of this tune 1:
  where all bars are of running eighths, the least rest is an ending.
* A *sign* is something printed that stands between two sections, with a weight: what it
  costs to pass over it, in bars.

Sources: that a group ends with a long note or a rest is Lerdahl and Jackendoff, "A
Generative Theory of Tonal Music" (1983), grouping preference rule 2, from memory; that a
phrase comes to rest on the tonic or the dominant is common practice. Weights are our own.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from fractions import Fraction

from kit.tune.model import Bar, Tune

__all__ = ["ending_evidence", "printed_signs", "silent_before", "verses_sung"]

_LENGTH_WEIGHT = 0.6
_GOAL_WEIGHT = 0.4
_LONG_ENOUGH = 1.5
"""So much more than the tune's mean, in means, is as long as a last note need be."""
_BESIDE_THE_BEAT = 0.8
_HELD_OVER = 0.4
_SILENT = 0.6
_LEAST_TOP = 0.4
_GOALS = {0: 1.0, 7: 0.6, 4: 0.4, 3: 0.4, 2: 0.4}
"""How well a phrase ends on a note, by its semitones above the tonic."""
_REPEAT_SIGN = 3.0
_OTHER_VERSES = 3.0
_NEW_KEY = 1.5
_NEW_METER = 1.5
_DOUBLE_BARLINE = 1.5
_PICKUP = 1.5
_MARK = 1.0


def ending_evidence(played: Tune, full: Sequence[int]) -> list[float]:
    """Give for each place from 1 on how well the music before it ends.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    full : sequence of int
        The indices of its full bars.

    Returns
    -------
    list of float
        One number for each full bar: the evidence that a section ends with it, 0 to 1.
    """
    starts, onsets = _times(played)
    if len(onsets) < 2:
        return [_SILENT] * len(full)
    moments = [onset for onset, _, _ in onsets]
    mean = (moments[-1] - moments[0]) / (len(moments) - 1)
    tonic = played.key.tonic.pitch_class
    found = []
    for place, index in enumerate(full):
        following = full[place + 1] if place + 1 < len(full) else None
        bar = played.bars[index]
        if following is None:
            found.append(1.0)
            continue
        at = starts[following]
        half = bar.meter.bar_length / 2
        low = max(1, bisect_left(moments, at - half))
        # An entry after the down-beat of the new section, as in jazz heads, is still one.
        high = bisect_left(moments, at + half)
        entries = (
            range(low, high) if low < high else range(high, min(high + 1, len(onsets)))
        )
        best = max(
            (_ending(onsets, k, at, float(mean), tonic) for k in entries), default=_SILENT
        )
        found.append(best)
    # The better endings of the tune set the measure, the very best one may be a chance.
    ranked = sorted(found[:-1], reverse=True) or [1.0]
    top = max(_LEAST_TOP, ranked[len(ranked) // 10])
    return [min(1.0, evidence / top) for evidence in found]


def _times(
    played: Tune,
) -> tuple[list[Fraction], list[tuple[Fraction, Fraction, int]]]:
    """Give when each bar starts, and each attack with its end and MIDI number."""
    starts: list[Fraction] = []
    attacks: list[tuple[Fraction, Fraction, int]] = []
    now, held = Fraction(0), False
    for bar in played.bars:
        starts.append(now)
        for note in bar.notes:
            if note.pitch is None:
                held = False
                continue
            if held and attacks and attacks[-1][2] == note.pitch.midi:
                attacks[-1] = (attacks[-1][0], now + note.end, note.pitch.midi)
            else:
                attacks.append((now + note.onset, now + note.end, note.pitch.midi))
            held = note.tied
        now += bar.length
    return starts, attacks


def _ending(
    attacks: Sequence[tuple[Fraction, Fraction, int]],
    entry: int,
    border: Fraction,
    mean: float,
    tonic: int,
) -> float:
    """Weigh the note before an entry as a last one, if the border is near the entry."""
    last, end, midi = attacks[entry - 1]
    gap = float(attacks[entry][0] - last)
    length = min(1.0, max(0.0, (gap / mean - 1) / _LONG_ENOUGH))
    if attacks[entry][0] != border:
        length *= _BESIDE_THE_BEAT
    if end > border:
        # What is held over the bar line belongs to the next bar as well.
        length *= _HELD_OVER
    return _LENGTH_WEIGHT * length + _GOAL_WEIGHT * _GOALS.get((midi - tonic) % 12, 0.0)


def printed_signs(
    played: Tune, full: Sequence[int], *, marks: frozenset[int] = frozenset()
) -> dict[int, float]:
    """Give the places at which something printed stands between sections, with weights.

    Bars by index that bear a mark may be given; the marks of the tune are not looked at.
    """
    bars = [played.bars[index] for index in full]
    signs = dict.fromkeys(_repeat_edges([bar.number for bar in bars]), _REPEAT_SIGN)
    sung = verses_sung(bars)
    for place in range(1, len(bars)):
        before, here = bars[place - 1], bars[place]
        weight = max(
            _NEW_KEY if before.key != here.key else 0.0,
            _NEW_METER if before.meter != here.meter else 0.0,
            _DOUBLE_BARLINE if before.barline != "single" else 0.0,
            _MARK if full[place] in marks else 0.0,
            _PICKUP if full[place] - full[place - 1] > 1 else 0.0,
            _OTHER_VERSES if sung[place] != sung[place - 1] else 0.0,
        )
        if weight:
            signs[place] = max(weight, signs.get(place, 0.0))
    return {place: weight for place, weight in signs.items() if 0 < place < len(bars)}


def _repeat_edges(numbers: Sequence[int]) -> frozenset[int]:
    """Places where a repeated passage starts, starts again, or ends."""
    edges: set[int] = set()
    for place in range(1, len(numbers)):
        if numbers[place] > numbers[place - 1]:
            continue
        again = numbers[place]
        start = next((p for p in reversed(range(place)) if numbers[p] <= again), 0)
        length = place - start
        edges.update({start, place, min(place + length, len(numbers))})
    return frozenset(edges)


def verses_sung(bars: Sequence[Bar]) -> list[int]:
    """Count the verses set to each bar; a bar without words has those of the one before.

    Several lines of words under the verse and one under the refrain is how songs are
    printed (common practice).
    """
    counts: list[int] = []
    for bar in bars:
        here = max((len(note.lyrics) for note in bar.notes if any(note.lyrics)), default=0)
        counts.append(here or (counts[-1] if counts else 0))
    first = next((count for count in counts if count), 0)
    return [count or first for count in counts]


def silent_before(played: Tune, full: Sequence[int]) -> int:
    """Count the full bars before the melody begins, 0 if it never does."""
    sounding = (any(n.pitch for n in played.bars[index].notes) for index in full)
    return next((place for place, sounds in enumerate(sounding) if sounds), 0)
