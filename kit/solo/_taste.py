"""Which of several rhythms is the more this tune's own?

Much is possible with a cell, and what comes first to mind is what every solo has. So each
tune has a taste: bars of its own melody are liked, bars that anybody plays are not, and
beyond that some rhythms more than others, by a chance that is fixed by the tune's music.
The same few rhythms then come again in a solo, and others in the solo on another tune.

Conventions: a cost is lower the more a rhythm is liked. A bar is what anybody plays if its
notes are likely on their places: more so the stronger the place.

Source: our own; that strong places have more onsets is common knowledge of rhythm research
(Palmer & Krumhansl 1990, from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import lru_cache
from random import Random

from kit.solo._develop import Stroke
from kit.solo._melody import Melody
from kit.tune.model import Meter

__all__ = ["Onsets", "Taste", "lead_in", "rows_of"]

Onsets = tuple[Fraction, ...]
_BAR_LINE, _BEAT, _LILT, _OFF_BEAT, _FINER = 0.85, 0.5, 0.45, 0.25, 0.05
_COMMON, _OWN, _AGAIN, _ONE_NOTE, _SILENT, _LONELY = 0.45, 0.2, 0.1, 0.5, 0.3, 1.5


class Taste:
    """What one tune likes.

    Parameters
    ----------
    mark : str
        Fixes the chance.
    melody : Melody
        Whose bars are liked.
    """

    def __init__(self, mark: str, melody: Melody) -> None:
        self._mark = mark
        self._own: set[tuple[Meter, Onsets]] = set()
        rows: dict[int, list[Fraction]] = {}
        for note in (note for line in melody.lines() for note in line):
            rows.setdefault(note.index, []).append(note.place)
        for index, places in rows.items():
            self._own.add((melody.sheet.bars[index].meter, tuple(sorted(set(places)))))
        self._known: dict[tuple[Meter, Onsets], float] = {}
        self._had: set[tuple[Meter, Onsets]] = set()

    def bar(self, meter: Meter, onsets: Onsets) -> float:
        """Give the cost of a bar's rhythm."""
        if not onsets:
            return _SILENT
        key = (meter, onsets)
        if key not in self._known:
            # One note is hardly a rhythm, and one on the first beat is nobody's own.
            few = 0.0 if len(onsets) > 1 else _ONE_NOTE if onsets[0] else _BAR_LINE
            liked = Random(f"{self._mark} {meter} {' '.join(map(str, onsets))}").random()
            own = _OWN if key in self._own and not few else 0.0
            self._known[key] = _COMMON * _chance(meter, onsets) + max(few, liked) - own
        return self._known[key]

    def phrase(
        self,
        bars: Sequence[tuple[Fraction, Meter]],
        strokes: Sequence[Stroke],
        before: tuple[Meter, Onsets] | None,
    ) -> float:
        """Give the mean cost of a phrase's bars, with that of notes that stand alone.

        Parameters
        ----------
        bars : sequence of (Fraction, Meter)
            Where each begins, counted from the first.
        strokes : sequence of Stroke
            The notes.
        before : (Meter, tuple of Fraction), optional
            The bar in front, into which a pick-up goes.
        """
        costs = []
        if before is not None and strokes and strokes[0].onset < 0:
            led = lead_in(before, strokes)
            costs.append(self._heard(before[0], led) - self._heard(*before))
        costs += [
            self._heard(meter, row)
            for (_, meter), row in zip(bars, rows_of(bars, strokes), strict=True)
        ]
        alone = _lonely(strokes, bars[0][1].pulse)
        return (sum(costs) + _LONELY * alone) / max(1, len(costs))

    def _heard(self, meter: Meter, onsets: Onsets) -> float:
        """Give the cost of a bar, less where the solo has had it: so it hangs together."""
        again = (meter, onsets) in self._had
        return self.bar(meter, onsets) - (_AGAIN if again else 0.0)

    def keep(self, meter: Meter, onsets: Onsets) -> None:
        """Note that the solo has a bar of this rhythm."""
        if onsets:
            self._had.add((meter, onsets))


def rows_of(
    bars: Sequence[tuple[Fraction, Meter]], strokes: Sequence[Stroke]
) -> list[Onsets]:
    """Give the onsets of each bar of a phrase, a pick-up left out."""
    rows: list[list[Fraction]] = [[] for _ in bars]
    for stroke in strokes:
        if stroke.onset >= 0:
            place = max(k for k, (at, _) in enumerate(bars) if at <= stroke.onset)
            rows[place].append(stroke.onset - bars[place][0])
    return [tuple(row) for row in rows]


def lead_in(before: tuple[Meter, Onsets], strokes: Sequence[Stroke]) -> Onsets:
    """Give the onsets of the bar in front of a phrase with the pick-up in it."""
    meter, onsets = before
    return (*onsets, *(meter.bar_length + s.onset for s in strokes if s.onset < 0))


def _lonely(strokes: Sequence[Stroke], pulse: Fraction) -> int:
    """Count short notes with a beat of silence on both sides: they sound like mistakes."""
    count = 0
    for k, stroke in enumerate(strokes):
        before = k == 0 or stroke.onset - strokes[k - 1].end >= pulse
        after = k + 1 == len(strokes) or strokes[k + 1].onset - stroke.end >= pulse
        count += before and after and stroke.duration <= pulse
    return count


@lru_cache(maxsize=4096)
def _chance(meter: Meter, onsets: Onsets) -> float:
    """Weigh the chance that notes fall on these places; 1 is the likeliest bar."""
    chance = 1.0
    taken = set(onsets)
    for place, likely in _places(meter):
        chance *= (likely if place in taken else 1 - likely) / max(likely, 1 - likely)
        taken.discard(place)
    # What stands between the places is rarer still.
    return chance * _FINER ** len(taken)


def _places(meter: Meter) -> Iterator[tuple[Fraction, float]]:
    parts = 3 if meter.is_compound else 2
    for k in range(meter.pulses * parts):
        # In a lilt the last third of the beat leads on to the next.
        likely = _LILT if k % parts == 2 else _OFF_BEAT if k % parts else _BEAT
        yield meter.pulse * Fraction(k, parts), likely if k else _BAR_LINE
