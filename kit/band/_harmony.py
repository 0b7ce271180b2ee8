"""What does the band make of the changes: plain chords, what is written, or substitutes?

*Plain* is for beginners: triads and sevenths without tensions, struck on the beat, over
roots and fifths in the bass. A dance whose pattern lies off the beat keeps it.

*Substituted* is for advanced players. The chart itself is changed, so that chords and bass
play the same:

* a ii before its V, in the first half of a dominant that lasts a bar;
* a dominant a tritone away, in the last half of a dominant that resolves a fourth up (or in
  all of a short one);
* a diminished seventh chord on the semitone between two roots a tone apart;
* a ii and V of the chord that comes, in the last bar of one that lasts two bars or more.

What the soloist plays is never in its way: under a melody each of its notes must be in the
substitute (a short note off the beat may pass). In an open solo, over which the student's
scale guide names the written changes, only the ii is put before its V: its four notes are
the fifth, the seventh, the ninth and the fourth of that V, all in the scale that the guide
names for a dominant resolving a fourth up. Slash chords, pedals, the first and the last
bar, and the first chord of a section stay as they are; two bars in a row are never changed.
Feels without tensions (folk dances, marches) keep what is written.

Source: common practice, as in M. Levine, *The Jazz Theory Book* (1995), chapter on
reharmonisation (from memory); how often is our own choice.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from kit.band._cells import cell_hits
from kit.band._comp_rhythm import Melody
from kit.band._voicing import leads_to_minor
from kit.band.chart import Change, ChartBar
from kit.band.events import PartNote
from kit.band.feel import CompPattern, Feel
from kit.tune.chord import ChordSymbol
from kit.tune.pitch import NoteName

__all__ = ["HARMONIES", "Harmony", "arranged", "plain_feel", "plain_symbol"]

Harmony = Literal["plain", "written", "substituted"]
HARMONIES: tuple[Harmony, ...] = ("plain", "written", "substituted")

# What a kind with more notes is at heart.
_PLAIN_KINDS = {
    "dominant-ninth": "dominant", "dominant-11th": "dominant", "dominant-13th": "dominant",
    "major-ninth": "major-seventh", "major-11th": "major-seventh",
    "major-13th": "major-seventh", "minor-ninth": "minor-seventh",
    "minor-11th": "minor-seventh", "minor-13th": "minor-seventh",
}  # fmt: skip
_PLAIN_CELLS = ("halves", "whole")
_DOMINANTS = ("dominant", "dominant-ninth", "dominant-13th")
_STABLE = ("major", "major-seventh", "major-sixth", "major-ninth", "dominant")
_MINOR_SEVENTHS = ("minor-seventh", "minor", "minor-ninth", "half-diminished")
# Semitones above the root of each kind that a melody may have over it.
_OVER = {
    "dominant": frozenset({0, 2, 4, 6, 7, 9, 10}),
    "minor-seventh": frozenset({0, 2, 3, 5, 7, 10}),
    "half-diminished": frozenset({0, 3, 5, 6, 10}),
    "diminished-seventh": frozenset({0, 3, 6, 9}),
}


def arranged(
    bars: Sequence[ChartBar], harmony: Harmony, melody: Sequence[PartNote], *, seed: str
) -> tuple[ChartBar, ...]:
    """Give the chart as the band plays it.

    Parameters
    ----------
    bars : sequence of ChartBar
        The chart of what is written.
    harmony : Harmony
        What to make of it.
    melody : sequence of PartNote
        As performed, in order.
    seed : str
        Chooses where to substitute.
    """
    if harmony == "plain":
        return tuple([_plain(bar) for bar in bars])
    if harmony == "substituted":
        return _substituted(bars, Melody(melody), seed)
    return tuple(bars)


def plain_symbol(symbol: ChordSymbol) -> ChordSymbol:
    """Take ninths and what lies above them out of a chord; altered fifths stay.

    Examples
    --------
    >>> from kit.tune.pitch import NoteName
    >>> str(plain_symbol(ChordSymbol(NoteName("G"), "dominant-13th")))
    'G7'
    """
    kept = tuple([d for d in symbol.degrees if d.value < 9])
    return replace(symbol, kind=_PLAIN_KINDS.get(symbol.kind, symbol.kind), degrees=kept)


def plain_feel(feel: Feel) -> Feel:
    """Give a feel as beginners hear it: chords on the beat, a bass of roots and fifths."""
    comp = {
        beats: tuple([p for p in patterns if _on_the_beat(p)])
        or (_on_beat_cells(beats) if all(p.name for p in patterns) else patterns)
        for beats, patterns in feel.comp.items()
    }
    bass = {
        beats: tuple([p for p in patterns if {n.degree for n in p} <= {1, 5, 8}])
        or patterns
        for beats, patterns in feel.bass.items()
    }
    return replace(
        feel, comp=comp, bass=bass, tensions=False, bass_head="pattern",
        bass_solo="pattern",
    )  # fmt: skip


def _on_the_beat(pattern: CompPattern) -> bool:
    # A cell on two and four is on the beat and still none of a beginner's.
    whole = all(at.denominator == 1 for at, _ in pattern.hits)
    return whole and (not pattern.name or pattern.hits[0][0] == 0)


def _on_beat_cells(beats: int) -> tuple[CompPattern, ...]:
    return tuple([CompPattern(cell_hits(name, beats), name) for name in _PLAIN_CELLS])


def _plain(bar: ChartBar) -> ChartBar:
    changes = [
        replace(c, symbol=plain_symbol(c.symbol)) if c.symbol is not None else c
        for c in bar.changes
    ]
    return replace(bar, changes=tuple(changes))


@dataclass(frozen=True, slots=True)
class _Spot:
    """The last change of a bar, and what comes before and after it."""

    bar: ChartBar
    change: Change
    symbol: ChordSymbol
    before: ChordSymbol | None
    follows: ChordSymbol

    @property
    def beats(self) -> Fraction:
        return (self.change.end - self.change.start) / self.bar.pulse

    @property
    def middle(self) -> Fraction:
        """Where the half begins that leads on: on a beat."""
        half = -int(-self.beats // 2) * self.bar.pulse
        return self.change.start + half

    @property
    def up(self) -> int:
        """Semitones from this root up to the next."""
        return (_root(self.follows) - _root(self.symbol)) % 12


# A way to play a spot: (from where, chord) pairs.
_Way = list[tuple[Fraction, ChordSymbol]]


def _substituted(
    bars: Sequence[ChartBar], melody: Melody, seed: str
) -> tuple[ChartBar, ...]:
    played = list(bars)
    last_place = -2
    for place in range(1, len(bars) - 1):
        bar = bars[place]
        spot = _spot(bars, place)
        if spot is None or place - last_place < 2:
            continue
        rng = random.Random(f"{seed}/harmony/{bar.start}")
        # A light chorus keeps to the tune, a full one leaves it more often.
        if rng.random() > bar.fullness - 0.1:
            continue
        ways = [way for rule in _RULES for way in rule(spot)]
        if bar.is_open:
            ways = list(_two_five(spot))
        rng.shuffle(ways)
        for way in ways:
            if _fits(spot, way, melody):
                played[place] = _with(bar, spot, way)
                last_place = place
                break
    return tuple(played)


def _spot(bars: Sequence[ChartBar], place: int) -> _Spot | None:
    """Give the last change of a bar if it may be played otherwise."""
    bar, after = bars[place], bars[place + 1].changes[0]
    change = bar.changes[-1]
    symbol, follows = change.symbol, after.symbol
    if (
        symbol is None or follows is None or symbol.root is None or follows.root is None
        or symbol.bass is not None or symbol.degrees or change.on_pedal or after.on_pedal
        or not bar.feel.tensions or symbol == follows
        or bar.band not in ("full", "double-time")
        or (bar.opens_section and len(bar.changes) == 1)
        or change.end - change.start < 2 * bar.pulse
    ):  # fmt: skip
        return None
    earlier = bar.changes[-2] if len(bar.changes) > 1 else bars[place - 1].changes[-1]
    return _Spot(bar, change, symbol, earlier.symbol, follows)


def _two_five(spot: _Spot) -> Iterator[_Way]:
    """Offer a ii before its V."""
    root = _root(spot.symbol)
    has_its_ii = (
        spot.before is not None
        and spot.before.kind in _MINOR_SEVENTHS
        and _root(spot.before) == (root + 7) % 12
    )
    leads = spot.symbol.kind in _DOMINANTS and spot.up == 5 and not has_its_ii
    if leads and spot.beats >= 3:
        yield [(spot.change.start, _ii_of(spot.follows)), (spot.middle, spot.symbol)]


def _tritone(spot: _Spot) -> Iterator[_Way]:
    """Offer the dominant a tritone away, leading down by a semitone."""
    if spot.symbol.kind in _DOMINANTS and spot.up == 5:
        away = ChordSymbol(_name(_root(spot.symbol) + 6), "dominant")
        if spot.beats >= 3:
            yield [(spot.change.start, spot.symbol), (spot.middle, away)]
        else:
            yield [(spot.change.start, away)]


def _passing(spot: _Spot) -> Iterator[_Way]:
    """Offer a diminished seventh chord between two roots a tone apart."""
    if spot.symbol.kind in _STABLE and spot.up == 2 and spot.beats >= 3:
        between = ChordSymbol(_name(_root(spot.symbol) + 1), "diminished-seventh")
        yield [(spot.change.start, spot.symbol), (spot.middle, between)]


def _turn(spot: _Spot) -> Iterator[_Way]:
    """Offer ii and V of what comes, in the last bar of a chord heard before."""
    lasts = spot.before == spot.symbol and not spot.change.is_new
    # Where the chord is the dominant of the next already, or only its own ii, it leads on.
    leads = spot.up == 5 or _root(spot.symbol) == _root(spot.follows)
    if lasts and not leads and spot.beats >= 3:
        five = ChordSymbol(_name(_root(spot.follows) + 7), "dominant")
        yield [(spot.change.start, _ii_of(spot.follows)), (spot.middle, five)]


_RULES: tuple[Callable[[_Spot], Iterator[_Way]], ...] = (
    _two_five,
    _tritone,
    _passing,
    _turn,
)


def _ii_of(target: ChordSymbol) -> ChordSymbol:
    minor = leads_to_minor(ChordSymbol(_name(_root(target) + 7), "dominant"), target)
    kind = "half-diminished" if minor else "minor-seventh"
    return ChordSymbol(_name(_root(target) + 2), kind)


def _fits(spot: _Spot, way: _Way, melody: Melody) -> bool:
    """Say whether all that the melody plays lies in the chords put under it."""
    ends = [start for start, _ in way[1:]] + [spot.change.end]
    pulse = spot.bar.pulse
    for (start, symbol), end in zip(way, ends, strict=True):
        if symbol == spot.symbol:
            continue
        over = _OVER[symbol.kind]
        for note in melody.between(start, end):
            passes = (
                2 * note.duration <= pulse and (note.start - spot.bar.start) % pulse != 0
            )
            if (note.midi - _root(symbol)) % 12 not in over and not passes:
                return False
    return True


def _with(bar: ChartBar, spot: _Spot, way: _Way) -> ChartBar:
    ends = [start for start, _ in way[1:]] + [spot.change.end]
    changes = [
        Change(start, end, symbol, is_new=spot.change.is_new or symbol != spot.symbol)
        for (start, symbol), end in zip(way, ends, strict=True)
    ]
    if len(changes) > 1:
        changes[1] = replace(changes[1], is_new=True)
    return replace(bar, changes=(*bar.changes[:-1], *changes))


def _root(symbol: ChordSymbol) -> int:
    assert symbol.root is not None
    return symbol.root.pitch_class


def _name(pitch_class: int) -> NoteName:
    """Name a root: five flats to six sharps, as in the usual keys."""
    fifths = pitch_class * 7 % 12
    return NoteName.from_fifths(fifths if fifths <= 6 else fifths - 12)
