"""Where do fast notes cross a break of the instrument?

A break is a place where one step needs all fingers, or another slide position or register
(`Instrument.breaks`). Crossing it is awkward when the note before it is short; how short
depends on the level.

Source: the breaks are common practice (see `kit/instruments/instruments.toml`); the limits
of time are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kit.check._leaf import Leaf, NotePlace
from kit.check.finding import Finding
from kit.check.players import players_words
from kit.form.wording import bars_words
from kit.instruments.part import Part
from kit.instruments.table import Break
from kit.levels.rewrite import bar_starts
from kit.route.plan import quarters_to_seconds
from kit.tune.sounding import sounding

__all__ = ["FAST_S", "awkward_crossings"]

FAST_S = {"beginner": 0.3, "intermediate": 0.2, "advanced": 0.12}
"""A note shorter than this gives a player of the level no time to prepare the fingers."""


@dataclass(frozen=True, slots=True)
class _Crossing:
    """The notes at which one break is crossed fast."""

    crossed: Break
    places: tuple[NotePlace, ...]

    @property
    def bars(self) -> frozenset[int]:
        """The bars concerned, as indices of the leaf."""
        return frozenset(bar for bar, _ in self.places)


def awkward_crossings(
    leaf: Leaf, parts: Sequence[Part], *, tempo_qpm: float
) -> Iterator[Finding]:
    """Yield one hint for all parts with fast notes over a break.

    Parameters
    ----------
    leaf : Leaf
        The music.
    parts : sequence of Part
        Who plays it.
    tempo_qpm : float > 0
        Quarter notes a minute.
    """
    found = [
        (part, crossing) for part in parts for crossing in _crossings(leaf, part, tempo_qpm)
    ]
    if not found:
        return
    # Horns of a family have the same break, and may read the same notes.
    shared: dict[Break, dict[frozenset[int], list[Part]]] = {}
    for part, crossing in found:
        by_bars = shared.setdefault(crossing.crossed, {})
        by_bars.setdefault(crossing.bars, []).append(part)
    alone = sum(map(len, shared.values())) == 1
    yield leaf.finding(
        "hint",
        "awkward-crossing",
        "fast notes cross a break: "
        + "; ".join(
            _words(leaf, crossed, by_bars, alone=alone)
            for crossed, by_bars in shared.items()
        ),
        remedy="let the crossing be practised by itself, or change a note there",
        notes=[place for _, crossing in found for place in crossing.places],
        parts=[part for part in parts if any(part is crosser for crosser, _ in found)],
    )


def _words(
    leaf: Leaf,
    crossed: Break,
    by_bars: Mapping[frozenset[int], Sequence[Part]],
    *,
    alone: bool,
) -> str:
    """Say who crosses a break, and in which bars if several do in different ones."""
    who = [
        players_words(parts) + ("" if alone else f" in {bars_words(leaf.numbers(bars))}")
        for bars, parts in by_bars.items()
    ]
    step = f"written {crossed.below} to {crossed.above}"
    return f"{step} on {', on '.join(who)} ({crossed.why})"


def _crossings(leaf: Leaf, part: Part, tempo_qpm: float) -> Iterator[_Crossing]:
    limit = FAST_S.get(part.level, FAST_S["intermediate"])
    starts = bar_starts(leaf.tune)
    sounds = list(sounding(leaf.bars_of(part)))
    for crossed in part.instrument.breaks:
        places: list[NotePlace] = []
        for first, second in pairwise(sounds):
            end = starts[first.bar] + first.onset + first.duration
            # A rest between the two gives the fingers their time.
            touches = end == starts[second.bar] + second.onset
            is_fast = quarters_to_seconds(first.duration, tempo_qpm) < limit
            if touches and is_fast and crossed.crossed_by(first.pitch, second.pitch):
                places += [(first.bar, first.position), (second.bar, second.position)]
        if places:
            yield _Crossing(crossed, tuple(dict.fromkeys(places)))
