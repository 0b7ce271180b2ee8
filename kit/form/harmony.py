"""Where does the harmony go: cadences, turnarounds, pedal points?

Conventions
-----------
* Chords are read in playing order; a chord written twice in a row counts once.
* A cadence is a dominant seventh a fifth above its goal; with a minor seventh (or
  half-diminished) chord a fifth above the dominant it is a ii–V–I. A tritone substitute
  in the dominant's place counts too.
* Bars are indices into the unfolded tune.

Source: common practice of jazz harmony, as the usual textbooks teach it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Interval, Key, NoteName

__all__ = [
    "Cadence",
    "Change",
    "Pedal",
    "Turnaround",
    "cadences",
    "changes",
    "is_blues_home",
    "is_dominant",
    "is_half_diminished",
    "is_major",
    "is_minor",
    "key_on",
    "mostly_sevenths",
    "pedals",
    "semitones_up",
    "turnaround",
]


@dataclass(frozen=True, slots=True)
class Change:
    """A chord with the bar it starts in and how long it holds, in quarter notes."""

    bar: int
    onset: Fraction
    duration: Fraction
    symbol: ChordSymbol


@dataclass(frozen=True, slots=True)
class Cadence:
    """A move to a goal: ``ii–V–I``, ``ii–V`` or ``V–I``; `goal` is the key aimed at.

    `chords` are as printed; `first` and `last` are the bars it takes.
    """

    kind: str
    goal: Key
    chords: tuple[ChordSymbol, ...]
    first: int
    last: int

    @property
    def numerals(self) -> str:
        """The kind as it is written in its mode: ``ii–V–i`` in minor."""
        return self.kind.replace("I", "i") if self.goal.is_minor else self.kind


@dataclass(frozen=True, slots=True)
class Turnaround:
    """Chords at a section's end that lead back to where the music goes on."""

    chords: tuple[ChordSymbol, ...]
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Pedal:
    """A bass note held under moving chords."""

    note: NoteName
    first: int
    last: int


def changes(tune: Tune, first: int = 0, last: int | None = None) -> tuple[Change, ...]:
    """Give the chords of a stretch of bars in order, those held from before included.

    Parameters
    ----------
    tune : Tune
        Unfolded, if chords are wanted in playing order.
    first, last : int
        Indices of the first and last bar; the whole tune unless said.
    """
    final = len(tune.bars) - 1 if last is None else last
    found: list[Change] = []
    for index in range(first, final + 1):
        bar = tune.bars[index]
        events = tune.chords_in_force(index) if index == first else bar.chords
        onsets = [min(event.onset, bar.length) for event in events]
        head = onsets[0] if onsets else bar.length
        if found and head > 0:
            found[-1] = _longer(found[-1], head)
        ends = [*onsets[1:], bar.length] if onsets else []
        for event, onset, end in zip(events, onsets, ends, strict=True):
            if found and found[-1].symbol == event.symbol:
                found[-1] = _longer(found[-1], end - onset)
            else:
                found.append(Change(index, onset, end - onset, event.symbol))
    return tuple(found)


def _longer(change: Change, by: Fraction) -> Change:
    return Change(change.bar, change.onset, change.duration + by, change.symbol)


def _has(symbol: ChordSymbol, *notes: tuple[int, int]) -> bool:
    return all(note in symbol.notes for note in notes)


def is_dominant(symbol: ChordSymbol) -> bool:
    """Whether the chord has a minor seventh over a major third, or a fourth for it."""
    return _has(symbol, (7, -1)) and (_has(symbol, (3, 0)) or _has(symbol, (4, 0)))


def is_minor(symbol: ChordSymbol) -> bool:
    """Whether the third is minor and the fifth is not flat."""
    return _has(symbol, (3, -1)) and not _has(symbol, (5, -1))


def is_major(symbol: ChordSymbol) -> bool:
    """Whether the third is major and there is no minor seventh."""
    return _has(symbol, (3, 0)) and not _has(symbol, (7, -1))


def is_half_diminished(symbol: ChordSymbol) -> bool:
    """Whether third, fifth and seventh are minor, flat and minor."""
    return _has(symbol, (3, -1), (5, -1), (7, -1))


def _is_two(symbol: ChordSymbol) -> bool:
    return is_half_diminished(symbol) or (is_minor(symbol) and _has(symbol, (7, -1)))


def mostly_sevenths(tune: Tune) -> bool:
    """Say whether most chords carry a seventh or more: the tune is likely to be swung."""
    sizes = [len(event.symbol.notes) for bar in tune.bars for event in bar.chords]
    return 2 * sum(size > 3 for size in sizes) > len(sizes)


def semitones_up(symbol: ChordSymbol, other: ChordSymbol) -> int:
    """Give the semitones from one root up to another, 0 to 11; -1 where one is missing.

    Parameters
    ----------
    symbol, other : ChordSymbol
        From the first one's root to the second one's; bass notes do not count.
    """
    if symbol.root is None or other.root is None:
        return -1
    return (other.root.pitch_class - symbol.root.pitch_class) % 12


def cadences(chords: Sequence[Change], home: Key | None = None) -> tuple[Cadence, ...]:
    """Find every ii–V–I, ii–V and V–I in a row of chords, longest reading first.

    With `home` given, a dominant seventh on its tonic is a goal too, as in a blues.

    Parameters
    ----------
    chords : sequence of Change
        In playing order, as `changes` gives them.
    home : Key, optional
        The tune's own key.

    Returns
    -------
    tuple of Cadence
        In order; the goal of one may be the first chord of the next.
    """
    found: list[Cadence] = []
    place = 0
    while place < len(chords):
        taken = _cadence_at(chords[place : place + 3], home)
        if taken is None:
            place += 1
            continue
        found.append(taken)
        # The goal of one cadence may be the ii of the next.
        place += max(1, len(taken.chords) - 1)
    return tuple(found)


def _cadence_at(chords: Sequence[Change], home: Key | None) -> Cadence | None:
    symbols = [change.symbol for change in chords]
    if len(symbols) >= 2 and _is_two(symbols[0]) and is_dominant(symbols[1]):
        fourth_up = semitones_up(symbols[0], symbols[1])
        # Up a fourth to the dominant, or down a half step to its tritone substitute.
        if fourth_up in (5, 11):
            resolves = len(symbols) > 2 and _resolves(symbols[1], symbols[2], home)
            taken = chords[: 3 if resolves else 2]
            goal = symbols[2] if resolves else None
            kind = "ii–V–I" if resolves else "ii–V"
            # Without its goal the ii alone tells the mode: in minor it is half-diminished.
            return _cadence(kind, taken, goal, minor=is_half_diminished(symbols[0]))
    resolves = len(symbols) > 1 and _resolves(symbols[0], symbols[1], home)
    if resolves and is_dominant(symbols[0]):
        return _cadence("V–I", chords[:2], symbols[1], minor=False)
    return None


def _resolves(dominant: ChordSymbol, goal: ChordSymbol, home: Key | None) -> bool:
    """Whether a dominant goes down a fifth, or a half step, to a chord of rest."""
    rests = is_minor(goal) or is_major(goal) or (home and is_blues_home(goal, home))
    return bool(rests) and semitones_up(dominant, goal) in (5, 11)


def is_blues_home(symbol: ChordSymbol, home: Key) -> bool:
    """Whether the chord is a dominant seventh on the home tonic, as in a blues."""
    root = symbol.root
    at_home = root is not None and root.pitch_class == home.tonic.pitch_class
    return at_home and is_dominant(symbol)


def _cadence(
    kind: str, chords: Sequence[Change], goal: ChordSymbol | None, *, minor: bool
) -> Cadence:
    if goal is not None and goal.root is not None:
        key = key_on(goal.root, minor=is_minor(goal))
    else:
        two = chords[0].symbol.root
        assert two is not None
        # The goal lies a whole tone below the ii.
        key = key_on(two + Interval(-1, -2), minor=minor)
    return Cadence(
        kind, key, tuple(c.symbol for c in chords), chords[0].bar, chords[-1].bar
    )


def key_on(tonic: NoteName, *, minor: bool) -> Key:
    """Give the major or minor key on a tonic."""
    # A minor key has the signature of the major key three fifths lower.
    return Key(tonic.fifths - (3 if minor else 0), "minor" if minor else "major")


def turnaround(tune: Tune, first: int, last: int) -> Turnaround | None:
    """Find the turnaround in the last two bars of a stretch, None if there is none.

    It has at least three chords, each moving to the next by fifth (or by half step down),
    and ends on a dominant.

    Parameters
    ----------
    tune : Tune
        Unfolded.
    first, last : int
        Indices of the first and last bar of the stretch, both included.
    """
    start = max(first, last - 1)
    chords = changes(tune, start, last)
    tail = list(chords[-4:])
    while len(tail) >= 3:
        moves = [semitones_up(a.symbol, b.symbol) for a, b in itertools.pairwise(tail)]
        # The first of four may be the tonic, which moves anywhere (I–VI–ii–V).
        steps = moves[1:] if len(tail) == 4 else moves
        if is_dominant(tail[-1].symbol) and all(move in (5, 11) for move in steps):
            return Turnaround(
                tuple(change.symbol for change in tail), tail[0].bar, tail[-1].bar
            )
        tail.pop(0)
    return None


def pedals(chords: Sequence[Change], *, least_quarters: int = 8) -> tuple[Pedal, ...]:
    """Find bass notes held under at least three different chords in a row.

    Parameters
    ----------
    chords : sequence of Change
        In playing order, as `changes` gives them.
    least_quarters : int
        Quarter notes that a bass note must last in all.

    Returns
    -------
    tuple of Pedal
        In order, with the first and last bar of each.
    """
    found: list[Pedal] = []
    run: list[Change] = []
    # The None closes the last run.
    for change in (*chords, None):
        if change is not None and run and _bass(change) == _bass(run[0]) is not None:
            run.append(change)
            continue
        note = _bass(run[0]) if run else None
        length = sum((item.duration for item in run), Fraction(0))
        if note is not None and len(run) >= 3 and length >= least_quarters:
            found.append(Pedal(note, run[0].bar, run[-1].bar))
        run = [] if change is None else [change]
    return tuple(found)


def _bass(change: Change) -> NoteName | None:
    return change.symbol.bass or change.symbol.root
