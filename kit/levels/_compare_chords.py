"""Which changes does a higher level play otherwise, and what is each new chord?

Conventions: bars by index, chords by their moment in the bar. Source: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from kit.form.harmony import is_dominant, is_half_diminished, is_minor, semitones_up
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune

__all__ = ["chord_differences"]

_Timed = tuple[int, Fraction, ChordSymbol]


def chord_differences(
    lower: Tune, upper: Tune, bars: int
) -> Iterator[tuple[int, str, str]]:
    """Yield bar index, clause and kind of each chord that differs in the first bars."""
    above = _timed(upper)
    for index in range(bars):
        old = {event.onset: event.symbol for event in lower.bars[index].chords}
        new = {event.onset: event.symbol for event in upper.bars[index].chords}
        explained: set[Fraction] = set()
        for onset in sorted(old.keys() | new.keys()):
            before, after = old.get(onset), new.get(onset)
            if before == after or onset in explained:
                continue
            if after is None:
                if before not in new.values():
                    yield index, f"{before} is left out", "chord"
                continue
            following = next(
                (symbol for i, o, symbol in above if (i, o) > (index, onset)), None
            )
            later = sorted(o for o in new if o > onset)
            if before is not None and later and new[later[0]] == before:
                # The old chord was only put off, and is told with the one before it.
                explained.add(later[0])
                kind, role = _role(after, None, following)
                yield index, f"{after} comes before {before}{role}", kind
                continue
            kind, role = _role(after, before, following)
            if before is None:
                yield index, f"{after} is added{role}", kind
            else:
                yield index, f"{before} becomes {after}{role}", kind


def _timed(tune: Tune) -> list[_Timed]:
    return [
        (index, event.onset, event.symbol)
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
    ]


def _role(
    new: ChordSymbol, old: ChordSymbol | None, following: ChordSymbol | None
) -> tuple[str, str]:
    """Give the edit's name and a clause that says what the new chord does."""
    if (
        is_dominant(new)
        and old is not None
        and is_dominant(old)
        and semitones_up(old, new) == 6
    ):
        return "tritone substitute", ", its tritone substitute"
    step = -1 if following is None else semitones_up(new, following)
    if following is not None and step == 5:
        if is_dominant(following) and (is_minor(new) or is_half_diminished(new)):
            return "ii before V", ": the ii before the V"
        if is_dominant(new):
            return "secondary dominant", f", the dominant of {following}"
    if new.kind == "diminished-seventh" and step in (1, 11):
        return "passing diminished", f", in passing to {following}"
    return "chord", ""
