"""Which chords stand where, between which neighbours, and in what mode is a section?

Conventions
-----------
* A chord's neighbours are those in playing order, across the borders of sections; behind
  the last chord comes the first, because choruses follow one another.
* A dominant that only changes its colours (G7sus4 G7 G7♭9) is one dominant: its neighbours
  are the chords around all of it.
* A section is phrygian if it has a major chord on the flat second step and no chord with
  the natural one; lydian if its tonic chord has a sharp fourth, or a major chord on the
  second step does not go on to the fifth, and no chord has the natural fourth.
* Of a vamp of two chords that makes such a mode the first is home, whatever key it might
  belong to: Em7 Fmaj7 is E phrygian, Fmaj7 G/F is F lydian.

Source: common practice of jazz teaching.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.form.harmony import (
    Change,
    changes,
    is_dominant,
    is_major,
    is_minor,
    semitones_up,
)
from kit.form.key_centres import key_centre
from kit.solo._scales import Scale, chord_scales
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Key, NoteName

__all__ = ["PlacedChord", "placed_chords", "section_key"]

_COLOUR_SHARE = Fraction(1, 8)
"""A mode's own chord sounds for this share of the section at the least."""
# From the signature of the major key on the same tonic.
_MODE_FIFTHS = {"phrygian": -4, "lydian": 1}
_FOREIGN = {"phrygian": 2, "lydian": 5}
"""Semitones above the tonic of the note that would undo the mode."""


@dataclass(frozen=True, slots=True)
class PlacedChord:
    """A chord with its neighbours."""

    change: Change
    before: ChordSymbol | None
    after: ChordSymbol | None

    @property
    def symbol(self) -> ChordSymbol:
        """The chord itself."""
        return self.change.symbol

    def scales(self, key: Key) -> tuple[Scale, ...]:
        """Give the scale for it in a key, and the other good answer if there is one."""
        return chord_scales(self.symbol, key, before=self.before, after=self.after)


def placed_chords(
    tune: Tune, stretches: Iterable[tuple[int, int]]
) -> tuple[tuple[PlacedChord, ...], ...]:
    """Give the chords of stretches of bars, those held from before included.

    Parameters
    ----------
    tune : Tune
        Unfolded.
    stretches : iterable of (int, int)
        Indices of the first and last bar of each.
    """
    every = [change for change in changes(tune) if change.symbol.note_names]
    symbols = [change.symbol for change in every]
    bars = [change.bar for change in every]
    # The chorus goes round.
    symbols += symbols[:1]
    found = []
    for first, last in stretches:
        inside = [c for c in changes(tune, first, last) if c.symbol.note_names]
        place = bisect_left(bars, first)
        # A chord that holds on from the bar before is cut there, and is the same chord.
        if inside and (place == len(bars) or symbols[place] != inside[0].symbol):
            place -= 1
        found.append(
            tuple(
                PlacedChord(
                    change,
                    _neighbour(symbols, place + k, -1),
                    _neighbour(symbols, place + k, 1),
                )
                for k, change in enumerate(inside)
            )
        )
    return tuple(found)


def _neighbour(symbols: Sequence[ChordSymbol], place: int, step: int) -> ChordSymbol | None:
    symbol = symbols[place]
    while 0 <= (place := place + step) < len(symbols):
        other = symbols[place]
        recoloured = is_dominant(symbol) and is_dominant(other)
        if other != symbol and not (recoloured and other.root == symbol.root):
            return other
    return None


def section_key(chords: Sequence[Change], home: Key) -> Key:
    """Give the key centre of a section, with its mode where that is phrygian or lydian."""
    vamp = _vamp_key(chords)
    if vamp is not None:
        return vamp
    key = key_centre(chords, home)
    if key.fifths == home.fifths and key.mode not in ("major", "minor"):
        # A mode that only its first chord speaks for: the notes are those of home.
        key = home
    total = sum((change.duration for change in chords), Fraction(0))
    mode = {"minor": "phrygian", "major": "lydian"}.get(key.mode)
    if mode is None:
        return key
    has_colour = _is_phrygian if mode == "phrygian" else _is_lydian
    colour = sum(
        (c.duration for place, c in enumerate(chords) if has_colour(chords, place, key)),
        Fraction(0),
    )
    foreign = (key.tonic.pitch_class + _FOREIGN[mode]) % 12
    lost = any(foreign in change.symbol.pitch_classes for change in chords)
    if lost or colour < _COLOUR_SHARE * total:
        return key
    return _on(key.tonic, mode)


def _on(tonic: NoteName, mode: str) -> Key:
    return Key(tonic.fifths + _MODE_FIFTHS[mode], mode)


def _vamp_key(chords: Sequence[Change]) -> Key | None:
    symbols = list(dict.fromkeys(change.symbol for change in chords))
    if len(symbols) != 2 or symbols[0].root is None:
        return None
    home, other = symbols
    root = symbols[0].root
    if not is_major(other):
        return None
    up = semitones_up(home, other)
    if up == 1 and is_minor(home):
        return _on(root, "phrygian")
    # F and G alone may be the fourth and fifth of C: a held bass or a major seventh tells.
    at_rest = home.degree(7) is not None or other.bass == root
    if up == 2 and is_major(home) and at_rest:
        return _on(root, "lydian")
    return None


def _degree(symbol: ChordSymbol, key: Key) -> int:
    return semitones_up(ChordSymbol(key.tonic), symbol)


def _is_phrygian(chords: Sequence[Change], place: int, key: Key) -> bool:
    symbol = chords[place].symbol
    return _degree(symbol, key) == 1 and is_major(symbol)


def _is_lydian(chords: Sequence[Change], place: int, key: Key) -> bool:
    symbol = chords[place].symbol
    degree = _degree(symbol, key)
    if degree == 0:
        sharp_fourth = (key.tonic.pitch_class + 6) % 12
        return is_major(symbol) and sharp_fourth in symbol.pitch_classes
    # A vamp goes round: behind its last chord comes its first.
    after = chords[(place + 1) % len(chords)].symbol
    # What goes on to the fifth step is its dominant, and says nothing of the mode.
    return degree == 2 and not is_minor(symbol) and _degree(after, key) != 7
