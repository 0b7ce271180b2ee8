"""Which changes are proposed for a melody, what else was weighed, and why not that?

A proposal is a guess by rule: chords of the key's mode that hold the melody's notes, move
as harmony usually moves and rest where phrases end. It is never the source's word, and
whoever prints it says so (`PROPOSED`).

Conventions
-----------
* Chords are at concert pitch; slots are in the order of the page, repeats not unfolded.
* A *cost* is how much less plausible the whole tune becomes with a chord in its slot, as a
  natural logarithm: 0 for the chord chosen.

Source: common practice of accompanying traditional tunes; measured against tunes marked
before the code was written (``tests/benchmarks/chords_for_tunes.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from kit.accompany._chords import Candidate
from kit.accompany._reasons import why_chosen, why_not
from kit.accompany._search import Weighed, weigh
from kit.accompany._slots import slots_of
from kit.tune.chord import ChordSymbol
from kit.tune.model import ChordEvent, Tune

__all__ = ["PROPOSED", "Proposal", "ProposedChord", "ProposedSlot", "propose_changes"]

PROPOSED = "These changes are proposed; the source has none."
"""What is said wherever proposed changes are shown."""


@dataclass(frozen=True, slots=True)
class ProposedChord:
    """A chord for a slot.

    Parameters
    ----------
    symbol : ChordSymbol
        As it would be written.
    numeral : str
        Its degree: ``IV``, ``♭VII``, ``V/V``.
    function : str
        ``tonic``, ``subdominant`` or ``dominant``.
    cost : float >= 0
        What it costs the whole tune to have it here.
    reason : str
        Why it was chosen, or why it was not: part of a sentence.
    """

    symbol: ChordSymbol
    numeral: str
    function: str
    cost: float
    reason: str

    def __str__(self) -> str:
        """Print the chord with its degree and the reason."""
        return f"{self.symbol} ({self.numeral}): {self.reason}"


@dataclass(frozen=True, slots=True)
class ProposedSlot:
    """A bar or half a bar with the chord chosen, and the others in order of cost.

    Parameters
    ----------
    bar : int
        Index of the bar in the tune as written.
    number : int
        The bar's printed number.
    onset, duration : Fraction
        In quarter notes from the start of the bar.
    opens : bool
        Whether a phrase begins here.
    chosen : ProposedChord
        What is proposed.
    rejected : tuple of ProposedChord
        All others of the mode that could stand here, the nearest first.
    """

    bar: int
    number: int
    onset: Fraction
    duration: Fraction
    opens: bool
    chosen: ProposedChord
    rejected: tuple[ProposedChord, ...]


@dataclass(frozen=True, slots=True)
class Proposal:
    """Changes proposed for a tune."""

    tune: Tune
    slots: tuple[ProposedSlot, ...]

    def with_changes(self, symbols: Sequence[ChordSymbol] | None = None) -> Tune:
        """Write chords above the melody, in place of any that were there.

        A chord that goes on is not repeated, but at the start of a phrase it is: nobody
        should have to look back into another line.

        Parameters
        ----------
        symbols : sequence of ChordSymbol, optional
            One for each slot; those chosen if left out.
        """
        wanted = symbols or [slot.chosen.symbol for slot in self.slots]
        chords: dict[int, list[ChordEvent]] = {}
        written = None
        for slot, symbol in zip(self.slots, wanted, strict=True):
            if symbol != written or slot.opens:
                chords.setdefault(slot.bar, []).append(ChordEvent(slot.onset, symbol))
                written = symbol
        return replace(
            self.tune,
            bars=tuple(
                replace(bar, chords=tuple(chords.get(index, ())))
                for index, bar in enumerate(self.tune.bars)
            ),
        )


def propose_changes(tune: Tune) -> Proposal:
    r"""Propose a chord for every bar, or half bar, of a melody.

    Parameters
    ----------
    tune : Tune
        As written, with at least one bar; chords it may have are not looked at.

    Returns
    -------
    Proposal
        With a chord for each slot. The last is the tonic of the key's mode.

    Examples
    --------
    >>> from kit.tune.abc.read import read_abc
    >>> text = "X:1\nM:4/4\nL:1/4\nK:C\nc G E G|A F C F|G B d B|c4|"
    >>> tune = read_abc(text, source="")
    >>> proposal = propose_changes(tune)
    >>> [str(slot.chosen.symbol) for slot in proposal.slots]
    ['C', 'F', 'G7', 'C']
    """
    weighed = weigh(slots_of(tune))
    return Proposal(tune, tuple(_proposed(tune, weighed)))


def _proposed(tune: Tune, weighed: Sequence[Weighed]) -> Iterator[ProposedSlot]:
    for place, slot in enumerate(weighed):
        after = weighed[place + 1] if place + 1 < len(weighed) else None
        before = weighed[place - 1] if place else None
        ranked = sorted(range(len(slot.chords)), key=lambda k: (slot.cost[k], k))
        yield ProposedSlot(
            slot.music.bar,
            tune.bars[slot.music.bar].number,
            slot.music.onset,
            slot.music.duration,
            before is None or before.music.closes_phrase,
            _chord(slot, slot.best, after, why_chosen(slot)),
            tuple(
                _chord(slot, k, after, why_not(slot, k, before=before, after=after))
                for k in ranked
                if k != slot.best
            ),
        )


def _chord(slot: Weighed, index: int, after: Weighed | None, reason: str) -> ProposedChord:
    chord = slot.chords[index]
    return ProposedChord(
        chord.symbol(slot.music.key, seventh=_leads_on(chord, slot, after)),
        chord.numeral,
        {"T": "tonic", "S": "subdominant", "D": "dominant"}[chord.function],
        slot.cost[index],
        reason,
    )


def _leads_on(chord: Candidate, slot: Weighed, after: Weighed | None) -> bool:
    """Say whether a dominant goes where it leads, and is written with its seventh.

    The seventh falls to the third of what follows. Modal tunes do without.
    """
    if after is None or after.music.key != slot.music.key:
        return False
    if chord.leads_to:
        return after.chosen.numeral == chord.leads_to
    return chord.is_dominant and after.chosen.is_home
