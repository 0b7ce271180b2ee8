"""How loud does the page ask a moment to be played?

Dynamics hold until the next one on the page, whatever is repeated or jumped over: a player
reads what stands there. A hairpin goes, in straight lines of decibels, to the dynamic at
its end; where none is printed, by one step. ``cresc.`` and ``dim.`` in words go on to the
next dynamic, or by one step over two bars. ``fp`` is struck loud and goes on soft; ``sfz``
and its like strike one note and leave the level as it was.

Conventions: positions are quarter notes along the page (`page_starts`), levels decibels
against ``mf``.

Sources: the order of the words and what they mean: any theory primer (common practice).
A wind instrument spans 10 to 15 dB from pp to ff on one note: Patterson, "Musical
Dynamics", *Scientific American* 231/5 (1974), from memory; so a step is 3 dB.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from kit.tune.model import Bar
from kit.tune.spans import pair_spans

__all__ = ["LEVELS_DB", "Dynamics", "page_starts", "read_dynamics"]

LEVELS_DB: Mapping[str, float] = {
    "pppp": -13.5, "ppp": -11.5, "pp": -9.0, "p": -6.0, "mp": -3.0,
    "mf": 0.0, "f": 3.0, "ff": 6.0, "fff": 8.0, "ffff": 9.0,
}  # fmt: skip
"""Against ``mf``, which is also what a page without dynamics is played at."""
_STEP_DB = 3.0
_STRUCK = frozenset({"sf", "sfz", "sffz", "fz", "rf", "rfz", "sfp", "sfpp", "fp", "pf"})
_GOES_ON = {"fp": "p", "sfp": "p", "sfpp": "pp", "pf": "f"}
_TURN = {"crescendo": 1, "diminuendo": -1}
_TURN_WORDS = {"cresc": 1, "dim": -1, "decresc": -1}
_Sign = tuple[Fraction, str]
_Hairpin = tuple[Fraction, Fraction, int]
"""Start, stop, and 1 for louder or -1 for softer."""
_FURTHEST = Fraction(32)
"""Quarter notes up to the dynamic that a ``cresc.`` still leads to."""


@dataclass(frozen=True, slots=True)
class Dynamics:
    """The levels of a page: from each `start` on in a straight line from `at` to `to`."""

    starts: tuple[Fraction, ...]
    lines: tuple[tuple[float, float], ...]
    struck: frozenset[Fraction] = frozenset()

    def level_db(self, position: Fraction) -> float:
        """Give the level at a position."""
        place = bisect_right(self.starts, position) - 1
        if place < 0:
            return 0.0
        at, to = self.lines[place]
        if at == to or place + 1 == len(self.starts):
            return at
        start, stop = self.starts[place], self.starts[place + 1]
        return at + (to - at) * float((position - start) / (stop - start))

    def over(self, start: Fraction, stop: Fraction) -> tuple[tuple[Fraction, float], ...]:
        """Give the corners of the curve from `start` on: (quarters from there, dB)."""
        inside = self.starts[
            bisect_right(self.starts, start) : bisect_right(self.starts, stop)
        ]
        corners = [start, *(corner for corner in inside if corner < stop)]
        rows = [(corner - start, self.level_db(corner)) for corner in corners]
        # The end itself: what is reached there, not what begins behind it.
        place = bisect_right(self.starts, stop) - 1
        reached = self.level_db(stop)
        if place > 0 and self.starts[place] == stop:
            reached = self.lines[place - 1][1]
        return (*rows, (stop - start, reached))


def page_starts(bars: Sequence[Bar]) -> tuple[Fraction, ...]:
    """Give where each bar begins, in quarter notes along the page."""
    return tuple(accumulate((bar.length for bar in bars), initial=Fraction(0)))[:-1]


def read_dynamics(bars: Sequence[Bar]) -> Dynamics:
    """Read the dynamics and hairpins of a page."""
    starts = page_starts(bars)
    words: list[_Sign] = []
    for start, bar in zip(starts, bars, strict=True):
        found = [word for word in bar.words if word.kind == "dynamics"]
        words += [(start + word.onset, word.text.strip().lower()) for word in found]
    words.sort(key=lambda pair: pair[0])
    hairpins = [
        (starts[first] + opening.onset, starts[last] + closing.onset, _TURN[opening.kind])
        for (first, opening), (last, closing) in pair_spans(bars)
        if opening.kind in _TURN
    ]
    return _drawn(words, sorted([*hairpins, *_in_words(bars, starts, words)]))


def _in_words(
    bars: Sequence[Bar],
    starts: Sequence[Fraction],
    dynamics: Sequence[_Sign],
) -> Iterator[tuple[Fraction, Fraction, int]]:
    """Give ``cresc.`` and ``dim.`` as hairpins."""
    for start, bar in zip(starts, bars, strict=True):
        for word in bar.words:
            first = word.text.strip().lower().partition(" ")[0].rstrip(".")
            turn = next(
                (way for name, way in _TURN_WORDS.items() if first.startswith(name)), 0
            )
            if word.kind != "words" or not turn:
                continue
            at = start + word.onset
            ahead = [place for place, _ in dynamics if at < place <= at + _FURTHEST]
            yield at, min(ahead, default=at + 2 * bar.meter.bar_length), turn


def _drawn(
    words: Sequence[_Sign],
    hairpins: Sequence[_Hairpin],
) -> Dynamics:
    """Walk along the page: words set the level, hairpins move it."""
    corners: dict[Fraction, tuple[float, float]] = {Fraction(0): (0.0, 0.0)}
    struck = frozenset(at for at, text in words if text in _STRUCK)
    levels = [
        (at, LEVELS_DB[sign])
        for at, text in words
        if (sign := _GOES_ON.get(text, text)) in LEVELS_DB
    ]
    now, done = 0.0, Fraction(-1)
    events = sorted(
        [(at, 0, level, at) for at, level in levels]
        + [(start, 1, float(turn), stop) for start, stop, turn in hairpins]
    )
    for at, kind, value, stop in events:
        if kind == 0:
            now = value
            corners[at] = (now, now)
        elif at >= done:
            # A second hairpin under an open one would be a slip of the pen.
            aim = _aim(now, int(value), at, stop, levels)
            corners[at], corners[stop] = (now, aim), (aim, aim)
            now, done = aim, stop
    starts = tuple(sorted(corners))
    return Dynamics(starts, tuple(corners[start] for start in starts), struck)


def _aim(
    now: float,
    turn: int,
    start: Fraction,
    stop: Fraction,
    levels: Sequence[tuple[Fraction, float]],
) -> float:
    """Give the level at the end of a hairpin: the next dynamic there, or a step on."""
    # A dynamic is often set a little behind the hairpin's end: within a beat it is its aim.
    near = [level for at, level in levels if start < at <= stop + 1]
    if near and (near[-1] - now) * turn > 0:
        return near[-1]
    return now + turn * _STEP_DB
