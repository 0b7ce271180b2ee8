"""In what order are the written bars played?

Conventions, all common practice:

* a closing repeat without an opening one goes back to the last closed passage, or to the
  start (pick-up included);
* endings are chosen by the pass; repeats may be nested;
* after D.C. or D.S. no repeat is taken, and of several endings the last;
* ``fine`` and ``to coda`` act only after the jump that calls for them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from kit.errors import NotationError
from kit.tune._validate import MAX_BARS
from kit.tune.model import Bar, Tune

__all__ = ["playing_order", "unfolded"]


def unfolded(tune: Tune) -> Tune:
    """Write the repeats and jumps out; bars keep their printed numbers.

    Raises
    ------
    NotationError
        As `playing_order`.
    """
    bars = tuple(
        replace(
            tune.bars[index],
            repeat_start=False,
            repeat_times=0,
            endings=(),
            jumps=(),
        )
        for index in playing_order(tune)
    )
    return replace(tune, bars=bars)


def playing_order(tune: Tune) -> tuple[int, ...]:
    """Give the indices of the tune's bars in the order in which they are played.

    Raises
    ------
    NotationError
        If a jump names a sign that is not there, or the signs never come to an end.

    Examples
    --------
    >>> from fractions import Fraction
    >>> from kit.tune.model import Note
    >>> rest = (Note(Fraction(0), Fraction(4), None),)
    >>> playing_order(Tune("", (Bar(1, rest), Bar(2, rest, repeat_times=2))))
    (0, 1, 0, 1)
    """
    walk = _Walk(tune)
    while walk.index is not None:
        # Repeats within repeats, a hundred passes each, come to an end here.
        if len(walk.order) >= MAX_BARS:
            raise NotationError(
                f"with its repeats and jumps it is played for more than {MAX_BARS} bars, "
                "the most that one lesson can hold",
                file=tune.source,
                bar=tune.bars[walk.index].number,
                remedy="check the repeat signs and the D.C. or D.S., or make several "
                "lessons of it",
            )
        walk.step()
    return tuple(walk.order)


@dataclass(slots=True)
class _Passage:
    """A repeated passage being played: where it starts, and the pass we are on."""

    start: int
    current: int = 1


class _Walk:
    """A finger moving over the page, remembering what it has repeated."""

    def __init__(self, tune: Tune) -> None:
        self.tune = tune
        self.bars = tune.bars
        self.index: int | None = 0 if tune.bars else None
        self.order: list[int] = []
        # A closing repeat may have no opening one: the start of the page opens silently.
        self.open = [_Passage(0)]
        self.jump = ""

    def step(self) -> None:
        """Play the bar under the finger, or pass over it, and move on."""
        index = self.index
        assert index is not None
        bar = self.bars[index]
        # Back at its own start, a passage does not begin once more.
        if bar.repeat_start and not self.jump and self.open[-1].start != index:
            self.open.append(_Passage(index))
        if bar.endings and not self._is_chosen(index):
            self._move_to(index + 1)
            return
        self.order.append(index)
        self._move_on(index, bar)

    def _move_on(self, index: int, bar: Bar) -> None:
        if self.jump and self._ends_or_leaves(bar):
            return
        if bar.repeat_times and not self.jump and self._goes_back(index, bar):
            return
        order = next((j for j in bar.jumps if j.startswith(("D.C.", "D.S."))), None)
        if order is not None and not self.jump:
            self.jump = order
            self.index = self._find("segno", bar) if order.startswith("D.S.") else 0
            return
        self._move_to(index + 1)

    def _ends_or_leaves(self, bar: Bar) -> bool:
        # An "al coda" passes by the fine, and an "al fine" by the sign to the coda.
        if "fine" in bar.jumps and "coda" not in self.jump:
            self.index = None
            return True
        if "to coda" in bar.jumps and "fine" not in self.jump:
            self.index = self._find("coda", bar)
            return True
        return False

    def _goes_back(self, index: int, bar: Bar) -> bool:
        passage = self.open[-1]
        # A third ending asks for a third pass, whatever the repeat sign says.
        times = max(bar.repeat_times, max(self._endings_from(index), default=0))
        if passage.current < times:
            passage.current += 1
            self.index = passage.start
            return True
        self._close(index + 1)
        return False

    def _close(self, next_start: int) -> None:
        """Leave the innermost passage; the outermost begins anew behind it."""
        if len(self.open) > 1:
            self.open.pop()
        else:
            self.open[0] = _Passage(next_start)

    def _move_to(self, index: int) -> None:
        last = self.bars[index - 1]
        leaves_endings = last.endings and (
            index == len(self.bars) or not self.bars[index].endings
        )
        # The last ending often has no repeat sign: behind it the passage is over.
        if leaves_endings and self.open[-1].current > 1 and not last.repeat_times:
            self._close(index)
        self.index = index if index < len(self.bars) else None

    def _is_chosen(self, index: int) -> bool:
        endings = self.bars[index].endings
        if self.jump:
            # Repeats are not taken after a jump, so of the endings the last is played.
            return max(endings) == max(self._endings_around(index))
        return self.open[-1].current in endings

    def _endings_from(self, index: int) -> list[int]:
        """List the passes that the endings from a bar onward name, up to a plain bar."""
        passes: list[int] = []
        for bar in self.bars[index:]:
            if not bar.endings:
                break
            passes.extend(bar.endings)
        return passes

    def _endings_around(self, index: int) -> list[int]:
        while index > 0 and self.bars[index - 1].endings:
            index -= 1
        return self._endings_from(index)

    def _find(self, sign: str, bar: Bar) -> int:
        for index, other in enumerate(self.bars):
            if sign in other.jumps:
                return index
        raise NotationError(
            f"the jump here looks for a {sign} sign, and there is none",
            file=self.tune.source,
            bar=bar.number,
            remedy=f"add the {sign} sign or take the jump out",
        )
