"""Where does a phrase last longer than a player's breath, and where could one breathe?

The length of a phrase in seconds, at the level's tempo, is compared with what a player of
that level and instrument can hold (`Instrument.breath_length_s`). The head is read as
played, repeats included. Where to breathe is proposed by `kit.instruments.breathing`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from kit.check._leaf import Leaf, NotePlace
from kit.check.finding import Finding
from kit.check.players import players_words
from kit.form.wording import bars_words
from kit.instruments.breathing import BREATH_MARKS, BlownNote, breaths_in, phrases_of
from kit.instruments.part import Part
from kit.route.plan import quarters_to_seconds

__all__ = ["long_phrases"]


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
    rows = list(_notes(leaf))
    places, notes = [place for place, _ in rows], [note for _, note in rows]
    phrases = [
        (phrase, _seconds(notes[phrase[0]].start, notes[phrase[-1]].end, tempo_qpm))
        for phrase in phrases_of(notes, tempo_qpm)
    ]
    longest = max((seconds for _, seconds in phrases), default=0.0)
    short_of = [(part, breath) for part, breath in breaths if breath < longest]
    if not short_of:
        return
    shortest = min(breath for _, breath in short_of)
    too_long = [phrase for phrase, seconds in phrases if seconds > shortest]
    breath_quarters = shortest * tempo_qpm / 60
    pauses = [
        places[at]
        for phrase in too_long
        for at in breaths_in(notes, phrase, breath_quarters)
    ]
    yield leaf.finding(
        "hint",
        "long-phrase",
        f"up to {longest:.0f} seconds go by without a rest, and a breath at this level "
        f"carries {_breath_words(short_of)}",
        remedy=_remedy(leaf, pauses),
        bars=[places[at][0] for phrase in too_long for at in phrase],
        parts=[part for part, _ in short_of],
    )


def _seconds(start: Fraction, end: Fraction, tempo_qpm: float) -> float:
    return quarters_to_seconds(end - start, tempo_qpm)


def _notes(leaf: Leaf) -> Iterator[tuple[NotePlace, BlownNote]]:
    now = Fraction(0)
    full_bars = 0
    for index, bar in zip(leaf.order, leaf.played, strict=True):
        full_bars += not bar.pickup
        for position, note in enumerate(bar.notes):
            if note.pitch is not None:
                yield (
                    (index, position),
                    BlownNote(
                        now + note.onset,
                        now + note.end,
                        note.tied,
                        not BREATH_MARKS.isdisjoint(note.marks),
                        note.end == bar.length,
                        full_bars % 2 == 0 and not bar.pickup,
                    ),
                )
        now += bar.length


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
