"""How much of a tune does an edit have to see?

An edit changes a few notes, and what it asks of the music lies close by: the note before,
the notes after, the chord that holds and the one that follows. It is therefore tried on a
*window*, some bars cut out of the tune, and these are put back. So an edit costs the same
in a tune of 32 bars as in a medley of 500.

Conventions
-----------
* A window begins and ends where no tie crosses the bar line, and reaches from the note
  before the address to as many notes behind it as the edit may ask for, and one more.
* For an edit of the changes it reaches back as far as the edit's own length, and on to the
  next chord.
* The bar in front of all this belongs to it too, with the chord that holds there made
  explicit. It is never changed: an edit would have to reach over the note before.
* Where the tune has no such note or chord the window goes to its end, so that "the first",
  "the last" and "nothing follows" mean the same as in the whole tune.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.levels.rewrite import bar_starts
from kit.tune.model import Bar, Tune

__all__ = ["Ground", "Reach", "cut_out", "put_back", "tie_free", "ties_on",
           "window_around"]  # fmt: skip


class Ground:
    """Where the bars of a tune begin and which numbers they bear: what no edit changes."""

    def __init__(self, tune: Tune) -> None:
        self.starts = bar_starts(tune)
        self._indices: dict[int, list[int]] = defaultdict(list)
        for index, bar in enumerate(tune.bars):
            self._indices[bar.number].append(index)

    def indices_of(self, number: int) -> Sequence[int]:
        """Give the indices of the bars printed with a number, none if there is no such."""
        return self._indices.get(number, ())


@dataclass(frozen=True, slots=True)
class Reach:
    """How far an edit may look: notes or bars onward, quarter notes back, or to a chord."""

    notes: int = 1
    bars: int = 1
    back: Fraction = Fraction(0)
    to_chord: bool = False


def window_around(
    tune: Tune, ground: Ground, index: int, at: Fraction, reach: Reach
) -> tuple[int, int]:
    """Give the first and last index of the bars that an edit has to see.

    Parameters
    ----------
    tune : Tune
        The music as it stands.
    ground : Ground
        Its bars, or those of the tune it was made from.
    index, at
        Where the edit works: a bar, and a moment in quarter notes from the tune's start.
    reach : Reach
        How far the edit looks.
    """
    if reach.to_chord:
        first = index
        while first > 0 and ground.starts[first] > at - reach.back:
            first -= 1
        last = _next_chord(tune, ground, index, at)
    else:
        first = _note_before(tune, ground, index, at)
        last = _notes_after(tune, ground, index, at, reach.notes + 1)
    last = max(last, min(index + reach.bars, len(tune.bars) - 1))
    return tie_free(tune.bars, max(0, first - 1), last)


def tie_free(bars: Sequence[Bar], first: int, last: int) -> tuple[int, int]:
    """Widen a stretch of bars until no tie leads into it or out of it."""
    while first > 0 and ties_on(bars[first - 1]):
        first -= 1
    while last < len(bars) - 1 and ties_on(bars[last]):
        last += 1
    return first, last


def ties_on(bar: Bar) -> bool:
    """Whether a tie may lead out of a bar; one without notes passes it on."""
    return not bar.notes or bar.notes[-1].tied


def _note_before(tune: Tune, ground: Ground, index: int, at: Fraction) -> int:
    """Give the bar in which the last sound before a moment starts; the first without."""
    for place in range(index, -1, -1):
        inside = at - ground.starts[place]
        joined = place > 0 and ties_on(tune.bars[place - 1])
        for note in tune.bars[place].notes:
            if note.onset >= inside:
                break
            if note.pitch is not None and not joined:
                return place
            joined = note.tied
    return 0


def _notes_after(tune: Tune, ground: Ground, index: int, at: Fraction, count: int) -> int:
    """Give the bar in which the last of so many sounds after a moment starts."""
    joined = index > 0 and ties_on(tune.bars[index - 1])
    for place in range(index, len(tune.bars)):
        inside = at - ground.starts[place]
        for note in tune.bars[place].notes:
            if note.pitch is not None and not joined and note.onset > inside:
                count -= 1
                if count == 0:
                    return place
            joined = note.tied
    return len(tune.bars) - 1


def _next_chord(tune: Tune, ground: Ground, index: int, at: Fraction) -> int:
    for place in range(index, len(tune.bars)):
        chords = tune.bars[place].chords
        if chords and chords[-1].onset > at - ground.starts[place]:
            return place
    return len(tune.bars) - 1


def cut_out(tune: Tune, first: int, last: int) -> Tune:
    """Cut some bars out, the chord that holds at their start made explicit."""
    bars = tune.bars[first : last + 1]
    chords = tune.chords_in_force(first)
    if chords is not bars[0].chords:
        bars = (replace(bars[0], chords=chords), *bars[1:])
    return replace(tune, bars=bars)


def put_back(tune: Tune, window: Tune, first: int) -> Tune:
    """Put edited bars back in their place; the chord made explicit stays behind."""
    bars = window.bars
    if first > 0:
        bars = (tune.bars[first], *bars[1:])
    return replace(tune, bars=(*tune.bars[:first], *bars, *tune.bars[first + len(bars) :]))
