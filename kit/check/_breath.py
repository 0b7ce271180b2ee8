"""Where does a phrase last longer than a player's breath, and where could one breathe?

A phrase goes on until a rest long enough to breathe in, or a written breath mark. Its
length in seconds, at the level's tempo, is compared with what a player of that level and
instrument can hold (`Instrument.breath_length_s`). The head is read as played, repeats
included.

Where to breathe is proposed as a teacher would: as late as the breath allows, best behind a
long note, at a bar line, at the end of an even number of bars.

Source: common practice; `QUICKEST_BREATH_S` and the weights are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.check._leaf import Leaf, NotePlace
from kit.check.finding import Finding
from kit.check.players import players_words
from kit.form.wording import bars_words
from kit.instruments.part import Part
from kit.route.plan import quarters_to_seconds

__all__ = ["QUICKEST_BREATH_S", "long_phrases"]

QUICKEST_BREATH_S = 0.25
"""A rest shorter than this is too short to breathe in."""
BREATH_MARK = "breath-mark"
_EARLIEST_SHARE = 0.4
"""Nobody breathes again before so much of a breath is used."""


@dataclass(frozen=True, slots=True)
class _Symbol:
    """A written note with its time as played; `even` bars end a pair of bars."""

    place: NotePlace
    start: Fraction
    end: Fraction
    tied: bool
    marked: bool
    ends_bar: bool
    even: bool


def long_phrases(
    leaf: Leaf, parts: Sequence[Part], *, tempo_qpm: float
) -> Iterator[Finding]:
    """Yield one hint for all parts whose players run out of breath.

    Parameters
    ----------
    leaf : Leaf
        The music.
    parts : sequence of Part
        Who plays it; those that need no breath are passed over.
    tempo_qpm : float > 0
        Quarter notes a minute.
    """
    breaths = [
        (part, seconds)
        for part in parts
        if (seconds := part.instrument.breath_length_s(part.level)) is not None
    ]
    phrases = [
        (phrase, quarters_to_seconds(phrase[-1].end - phrase[0].start, tempo_qpm))
        for phrase in _phrases(leaf, tempo_qpm)
    ]
    longest = max((seconds for _, seconds in phrases), default=0.0)
    short_of = [(part, breath) for part, breath in breaths if breath < longest]
    if not short_of:
        return
    shortest = min(breath for _, breath in short_of)
    too_long = [phrase for phrase, seconds in phrases if seconds > shortest]
    pauses = [
        place for phrase in too_long for place in _pauses(phrase, shortest * tempo_qpm / 60)
    ]
    yield leaf.finding(
        "hint",
        "long-phrase",
        f"up to {longest:.0f} seconds go by without a rest, and a breath at this level "
        f"carries {_breath_words(short_of)}",
        remedy=_remedy(leaf, pauses),
        bars=[symbol.place[0] for phrase in too_long for symbol in phrase],
        parts=[part for part, _ in short_of],
    )


def _phrases(leaf: Leaf, tempo_qpm: float) -> Iterator[list[_Symbol]]:
    """Yield the notes between two chances to breathe."""
    least = QUICKEST_BREATH_S * tempo_qpm / 60
    phrase: list[_Symbol] = []
    for symbol in _symbols(leaf):
        if phrase and (symbol.start - phrase[-1].end >= least or phrase[-1].marked):
            yield phrase
            phrase = []
        phrase.append(symbol)
    if phrase:
        yield phrase


def _symbols(leaf: Leaf) -> Iterator[_Symbol]:
    now = Fraction(0)
    full_bars = 0
    for index, bar in zip(leaf.order, leaf.played, strict=True):
        full_bars += not bar.pickup
        for position, note in enumerate(bar.notes):
            if note.pitch is not None:
                yield _Symbol(
                    (index, position),
                    now + note.onset,
                    now + note.end,
                    note.tied,
                    BREATH_MARK in note.marks,
                    note.end == bar.length,
                    full_bars % 2 == 0 and not bar.pickup,
                )
        now += bar.length


def _pauses(phrase: Sequence[_Symbol], breath_quarters: float) -> Iterator[NotePlace]:
    """Yield the notes behind which to breathe, as few as will do."""
    most = Fraction(breath_quarters)
    least = Fraction(_EARLIEST_SHARE * breath_quarters)
    start, first = phrase[0].start, 0
    while phrase[-1].end - start > most:
        reach = []
        for place in range(first, len(phrase) - 1):
            length = phrase[place].end - start
            if length > most:
                break
            # Nobody breathes within a tied note.
            if length >= least and not phrase[place].tied:
                reach.append(place)
        if not reach:
            return
        best = max(reach, key=lambda at: _merit(phrase[at], start, breath_quarters))
        yield phrase[best].place
        start, first = phrase[best + 1].start, best + 1


def _merit(symbol: _Symbol, start: Fraction, breath_quarters: float) -> float:
    length = min(float(symbol.end - symbol.start), 2.0)
    lateness = float(symbol.end - start) / breath_quarters
    return length + lateness + symbol.ends_bar + (symbol.ends_bar and symbol.even)


def _breath_words(short_of: Sequence[tuple[Part, float]]) -> str:
    """Say who has how much: ``4 seconds on flute and trombone, 5 on trumpet``."""
    by_length: dict[float, list[Part]] = {}
    for part, breath in sorted(short_of, key=lambda pair: pair[1]):
        by_length.setdefault(breath, []).append(part)
    (first, parts), *rest = by_length.items()
    return "; ".join(
        (
            f"{first:g} seconds on {players_words(parts)}",
            *(f"{breath:g} on {players_words(parts)}" for breath, parts in rest),
        )
    )


def _remedy(leaf: Leaf, pauses: Sequence[NotePlace]) -> str:
    if not pauses:
        return "cut a long note and put a rest behind it"
    bars = leaf.tune.bars
    ends = [bar for bar, at in pauses if bars[bar].notes[at].end == bars[bar].length]
    inside = [bar for bar, at in pauses if bars[bar].notes[at].end != bars[bar].length]
    where = []
    if ends:
        where.append(f"at the end of {bars_words(leaf.numbers(ends))}")
    if inside:
        where.append(f"in {bars_words(leaf.numbers(inside))}")
    return f"add a breath mark or a short rest {' and '.join(where)}"
