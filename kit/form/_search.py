"""Which sections does a tune have whose source does not say?

Of all the ways to cut the tune into sections, the one is taken that leaves a student least
to learn: the shortest description of the music. The ways are searched from the first bar to
the last, the best of them kept at each place (a beam search).

Conventions
-----------
* Places are counted in full bars, costs in bars: what is new costs its bars, what comes
  back costs the bars in which it differs.
* A section has a length; one that the tune has used before is free, another has to pay.
* A section is known by its opening. Endings vary, so the last quarter counts half.
* The last rounds may be played in a higher key. A section in another key between two in the
  home key is a bridge, and has a letter of its own.

Sources: minimum description length is Rissanen, "Modeling by shortest data description"
(Automatica 14, 1978), from memory; lengths of sections and what may vary are common
practice; the weights are our own, set on tunes made by tests/benchmarks/form_motifs.py and
judged on others (tests/benchmarks/form_finding.py, docs/developer/craft.md).
"""

from __future__ import annotations

from collections.abc import Iterator
from string import ascii_uppercase
from typing import NamedTuple

from kit.form._blues import blues_within
from kit.form._borders import ending_evidence, printed_signs, silent_before
from kit.form._marks import pickup_before
from kit.form._returns import Known, Returns
from kit.form._strains import Piece, joined
from kit.form.sections import CODA, INTRO, Form, Section
from kit.tune.model import Tune

__all__ = ["found_form"]

_LENGTHS = (*range(2, 17), 18, 20, 24)
_NEW_LENGTH = {
    8: 0.0, 4: 0.5, 6: 1.0, 5: 1.3, 12: 1.5, 7: 1.6, 9: 1.8, 16: 2.0, 3: 2.2, 10: 2.5,
}  # fmt: skip
"""What a first length costs: eight bars are the usual strain (common practice)."""
_RARE_LENGTH = 2.5
_RELATED_LENGTH, _OTHER_LENGTH, _FURTHER = 2.2, 1.6, 0.5
"""What a further length costs, with a part of the above: twice or half one that is known
(more, since it may be two of them, or half of one), or another one."""
_SECTION = 1.2
_LONG_FROM, _LONG = 8, 0.25
"""What each bar beyond eight costs."""
_WEAK_ENDING = 0.8
"""What an ending costs that is none; more serves made tunes and fails real ones."""
_LIFT, _LIFTED = 1.5, 0.35
"""What a lift costs, and the most that each bar of a lifted section may."""
_FRAME_LENGTHS = range(1, 9)
_FRAME = 2.0
_TAG = 0.5
"""What a bar of a coda costs that says the end of the section before it again."""
_VARIANT = 2.0
"""What it costs a new section to be a variant of a known one."""
_BEAM, _BEAM_BARS, _LEAST_BEAM = 40, 2400, 6


_INTRO, _CODA = -1, -2


class _Way(NamedTuple):
    """A way to cut the music up to some place."""

    cost: float
    pieces: tuple[Piece, ...]
    known: tuple[Known, ...]
    lengths: frozenset[int]
    shift: int

    def with_piece(self, step: _Step) -> _Way:
        """Go one section further."""
        piece = step.piece
        known, lengths = self.known, self.lengths
        if piece.label >= 0:
            lengths = lengths | {piece.length}
        if piece.label == len(known):
            known = (*known, Known(piece.start, piece.length, self.shift))
        pieces = (*self.pieces, piece)
        return _Way(step.cost, pieces, known, lengths, self.shift + step.lift)


class _Step(NamedTuple):
    """A section that may follow, and what the way costs with it."""

    cost: float
    piece: Piece
    lift: int
    way: _Way


def found_form(played: Tune, *, marks: frozenset[int] = frozenset()) -> Form:
    """Give the sections of an unfolded tune by comparing its bars.

    Parameters
    ----------
    played : Tune
        The unfolded tune; its marks are not looked at.
    marks : frozenset of int
        Bars by index before which the file has a mark, of whatever meaning: a border is
        likely there.
    """
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    if not full:
        return Form((), "found")
    blues = blues_within(played, full)
    if blues is None:
        search = _Search(played, full, marks=marks)
        pieces = joined(search.best(), search.returns.likenesses.kinds, search.closes)
    else:
        # The changes say where a chorus begins; what the melody says is which are alike.
        intro, chorus, _ = blues
        pieces = _Search(played, full, chorus=(intro, chorus.bars)).best()
    sections = tuple(
        Section(
            _name(piece.label),
            full[piece.start],
            full[piece.start + piece.length - 1],
            pickup_before(played, full[piece.start]),
        )
        for piece in pieces
    )
    return Form(sections, "found")


def _name(label: int) -> str:
    if label < 0:
        return INTRO if label == _INTRO else CODA
    rounds, index = divmod(label, len(ascii_uppercase))
    return ascii_uppercase[index] + (str(rounds) if rounds else "")


class _Search:
    """The beam search over one tune."""

    def __init__(
        self,
        played: Tune,
        full: list[int],
        *,
        chorus: tuple[int, int] | None = None,
        marks: frozenset[int] = frozenset(),
    ) -> None:
        """Prepare to search; `chorus` is the bars of an intro and those of a section."""
        self.bars = [played.bars[index] for index in full]
        self.tonic = played.key.tonic.pitch_class
        self.count = len(full)
        self.chorus = chorus
        self.lengths = _LENGTHS if len(full) > 1 else (1,)
        if chorus is not None:
            self.lengths = (chorus[1],)
        self.returns = Returns(played, full, self.lengths)
        evidence = ending_evidence(played, full)
        self.weak = [_WEAK_ENDING * (1 - one) for one in evidence]
        signs = printed_signs(played, full, marks=marks)
        self.passed = [0.0]
        for place in range(self.count):
            self.passed.append(self.passed[-1] + signs.get(place, 0.0))
        self.silent = silent_before(played, full)
        self.beam = max(_LEAST_BEAM, min(_BEAM, _BEAM_BARS // self.count))
        self._by_lengths: dict[frozenset[int], dict[int, float]] = {}

    def closes(self, place: int) -> bool:
        """Whether the longest note of a bar, the first of equals, is the tonic."""
        notes = [(n.duration, n.pitch.midi) for n in self.bars[place].notes if n.pitch]
        # The first of equals: a strain in running notes comes home on the beat.
        longest = max(notes, key=lambda note: note[0], default=None)
        return longest is not None and longest[1] % 12 == self.tonic

    def best(self) -> tuple[Piece, ...]:
        """Give the pieces of the cheapest way."""
        steps: list[list[_Step]] = [[] for _ in range(self.count + 1)]
        ways = [_Way(0.0, (), (), frozenset(), 0)]
        for place in range(self.count):
            if place:
                ways = self._best_ways(steps[place])
            steps[place] = []
            here = self._costs(place)
            for way in ways:
                for step in self._steps(way, place, here):
                    steps[place + step.piece.length].append(step)
        ways = [step.way.with_piece(step) for step in sorted(steps[self.count], key=_cost)]
        return next((way for way in ways if self._is_framed_well(way)), ways[0]).pieces

    def _is_framed_well(self, way: _Way) -> bool:
        """Whether there is a form between intro and coda: something that comes back."""
        first = way.pieces[0]
        silent = first.label == _INTRO and first.length == self.silent
        framed = [piece for piece in way.pieces if piece.label < 0]
        return len(way.pieces) - len(framed) > len(way.known) or len(framed) <= silent

    def _best_ways(self, steps: list[_Step]) -> list[_Way]:
        """Go the cheapest steps; of ways that are the same for all that follows, one."""
        ways: dict[object, _Way] = {}
        for step in sorted(steps, key=_cost):
            way = step.way.with_piece(step)
            ways.setdefault((way.known, way.lengths, way.shift), way)
            if len(ways) == self.beam:
                break
        return list(ways.values())

    def _steps(self, way: _Way, place: int, here: dict[int, float]) -> Iterator[_Step]:
        yield from self._frame(way, place)
        if self.chorus is not None and place < self.chorus[0]:
            return
        after_intro = len(way.pieces) == 1 and not way.known
        if after_intro and self.chorus is None and place != self.silent:
            # An intro is shorter than what it leads to.
            here = {n: c for n, c in here.items() if place <= max(2, (n + 1) // 2)}
        lengths = self._length_costs(way.lengths)
        new = {length: float(length) for length in here}
        for label, known in enumerate(way.known):
            for length, cost in self.returns.by_length(known, place, way.shift).items():
                again = way.cost + here[length] + cost + lengths[length]
                yield _Step(again, Piece(place, length, label), 0, way)
                if length == known.length and self.returns.shares_its_ending(
                    known, place, way.shift
                ):
                    new[length] = min(new[length], cost + _VARIANT)
            lift = self.returns.lift(known, place, way.shift)
            if lift:
                moved = self.returns.by_length(known, place, way.shift + lift).get(
                    known.length
                )
                if moved is not None and moved <= _LIFTED * known.length:
                    cost = way.cost + here[known.length] + moved + _LIFT
                    yield _Step(cost, Piece(place, known.length, label), lift, way)
        label = len(way.known)
        for length, cost in here.items():
            first = way.cost + cost + new[length] + lengths[length]
            yield _Step(first, Piece(place, length, label), 0, way)

    def _costs(self, place: int) -> dict[int, float]:
        """Weigh a section at a place by its length, whatever it holds."""
        costs = {}
        for length in self.lengths:
            end = place + length
            if end > self.count:
                break
            cost = _SECTION + _LONG * max(0, length - _LONG_FROM)
            cost += self.passed[end] - self.passed[place + 1]
            costs[length] = cost + (self.weak[end - 1] if end < self.count else 0.0)
        return costs

    def _length_costs(self, known: frozenset[int]) -> dict[int, float]:
        """Weigh lengths by those that the tune has used before."""
        costs = self._by_lengths.get(known)
        if costs is None:
            costs = {length: _length_cost(known, length) for length in (1, *_LENGTHS)}
            self._by_lengths[known] = costs
        return costs

    def _frame(self, way: _Way, place: int) -> Iterator[_Step]:
        """Begin with an intro, or end with a coda."""
        left = self.count - place
        if place == 0:
            # What is played before the melody begins is an intro however long it is.
            intros = (
                {*_FRAME_LENGTHS, self.silent} if self.chorus is None else self.chorus[:1]
            )
            for length in sorted(intros):
                if not 0 < length < left:
                    continue
                cost = _FRAME + (0 if length == self.silent else length)
                cost += self.weak[length - 1] + self.passed[length] - self.passed[1]
                yield _Step(cost, Piece(0, length, _INTRO), 0, way)
        elif way.known and left <= self._longest_frame(way.pieces[-1]):
            cost = way.cost + _FRAME + self._coda(place, left)
            yield _Step(cost, Piece(place, left, _CODA), 0, way)

    def _longest_frame(self, section: Piece) -> int:
        """Say how long an intro before, or a coda after a section may be."""
        if self.chorus is not None:
            return section.length - 1
        return max(2, (section.length + 1) // 2)

    def _coda(self, place: int, length: int) -> float:
        """Weigh a coda; one that says the end before it again is a tag."""
        return sum(
            _TAG if self.returns.difference(place - length + k, place + k) < _TAG else 1.0
            for k in range(length)
        )


def _cost(step: _Step) -> float:
    return step.cost


def _length_cost(known: frozenset[int], length: int) -> float:
    if length in known:
        return 0.0
    base = _NEW_LENGTH.get(length, _RARE_LENGTH)
    if not known:
        return base
    related = any(length in (2 * other, other / 2) for other in known)
    return (_RELATED_LENGTH if related else _OTHER_LENGTH) + _FURTHER * base
