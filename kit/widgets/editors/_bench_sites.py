"""Which notes and rests can be chosen on the bench, and where does an edit find them?

A *site* is a place in a melody at which an edit can work: a note (its first symbol, where
it is tied over) or a rest. Sites are named by the id of their symbol on the level's staff
and addressed, as in a level file, by printed bar and beat.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from kit.levels.values import beat_words, value_words
from kit.tune.model import Bar, Tune, note_id
from kit.tune.sounding import sounding

__all__ = ["Site", "nearest", "sites", "symbol_sites"]


@dataclass(frozen=True, slots=True)
class Site:
    """A place to edit.

    Parameters
    ----------
    id : str
        Of its (first) symbol.
    index : int
        Of its bar.
    number : int
        The bar's printed number.
    onset : Fraction
        Quarter notes from the start of the bar.
    beat : Fraction
        The same as a beat, counted from 1.
    words : str
        What stands there: ``bar 2, beat 1: A, a half``.
    is_rest : bool
        Whether nothing sounds.
    """

    id: str
    index: int
    number: int
    onset: Fraction
    beat: Fraction
    words: str
    is_rest: bool


def sites(tune: Tune, *, first: int, last: int) -> tuple[Site, ...]:
    """List the sites of some bars in order.

    Parameters
    ----------
    tune : Tune
        A melody; at written pitch if the words are to name written notes.
    first, last : int
        Indices of the first and last bar, both included.
    """
    found = [
        _site(tune.bars[sound.bar], sound.bar, sound.position, sound.duration)
        for sound in sounding(tune.bars)
        if first <= sound.bar <= last
    ]
    found += [
        _site(tune.bars[index], index, position, note.duration)
        for index in range(first, last + 1)
        for position, note in enumerate(tune.bars[index].notes)
        if note.is_rest
    ]
    return tuple(sorted(found, key=lambda site: (site.index, site.onset)))


def symbol_sites(tune: Tune, *, first: int, last: int) -> dict[str, str]:
    """Give for each symbol of some bars the id of its site: the note it holds on."""
    homes: dict[str, str] = {}
    home, held = "", False
    for index, bar in enumerate(tune.bars):
        for position, note in enumerate(bar.notes):
            own = note_id(index, position)
            home = home if held and not note.is_rest else own
            held = note.tied
            if first <= index <= last:
                homes[own] = home
    return homes


def nearest(known: tuple[Site, ...], *, index: int, onset: Fraction) -> Site | None:
    """Give the site at a moment, or the last one before it, or the first of all."""
    before = [site for site in known if (site.index, site.onset) <= (index, onset)]
    if before:
        return before[-1]
    return known[0] if known else None


def _site(bar: Bar, index: int, position: int, duration: Fraction) -> Site:
    note = bar.notes[position]
    lead_in = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    beat = (note.onset + lead_in) / Fraction(4, bar.meter.beat_type) + 1
    what = "a rest" if note.pitch is None else str(note.pitch.name)
    place = "pick-up" if bar.pickup else f"bar {bar.number}"
    return Site(
        id=note_id(index, position),
        index=index,
        number=bar.number,
        onset=note.onset,
        beat=beat,
        words=f"{place}, {beat_words(beat)}: {what}, {value_words(duration)}",
        is_rest=note.is_rest,
    )
