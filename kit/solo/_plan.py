"""What does each phrase of a solo do, and to which rhythm?

Every section has an idea of its own: the most telling cell of its melody. Its phrases state
it, move it, turn it, take it apart, come to rest, or leave room; which of these in which
order is drawn for the tune from develop.toml.

Conventions
-----------
* Phrases have two bars; where a section has an odd number the last has one. In turn they
  ask and answer; the last of all answers.
* A pick-up is played in the silence before its phrase, and never at the cost of a breath.
* Of several ways to lay a phrase out the tune takes the one it likes (`_taste.py`).
* Chance is the tune's own (`Melody.fingerprint`) and the seed's: the same tune and seed
  give the same plan in every key.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from typing import Literal

from kit.form.harmony import mostly_sevenths
from kit.form.sections import Form, Section
from kit.solo._breath import with_breaths
from kit.solo._cells import Cell, Cells
from kit.solo._develop import Layout, Move, Room, Stroke, layouts, plans, strokes
from kit.solo._melody import Melody
from kit.solo._prompts import prompt_for
from kit.solo._taste import Onsets, Taste, lead_in, rows_of
from kit.tune.model import Meter, Tune

__all__ = ["Planned", "Role", "planned"]

Role = Literal["question", "answer"]
_PLAINEST: Layout = (("cell",), ("landing",))
_TURNS = 4
"""Times that each layout is tried with other chances."""
_TOO_FEW = 3.0
"""Dearer than any rhythm of several notes: one note makes no phrase."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A phrase with its rhythm.

    `bars` are indices of the laid-out tune, `source` is the section of the tune whose music
    it takes up, `cell` the idea it is made of (None where there is no melody), and `rest`
    the silence behind its last note.
    """

    label: str
    bars: tuple[int, ...]
    role: Role
    move: Move
    source: Section
    cell: Cell | None
    strokes: tuple[Stroke, ...]
    rest: Fraction


@dataclass(frozen=True, slots=True)
class _Task:
    """A phrase before its rhythm is made; a sequence has the place of its statement."""

    label: str
    bars: tuple[int, ...]
    role: Role
    move: Move
    source: Section
    cell: Cell | None
    stated: int | None = None


@dataclass(frozen=True, slots=True)
class _Draw:
    """One way to lay a phrase out."""

    layout: Layout
    chance: str
    plainest: bool = False


def planned(
    laid: Tune, form: Form, melody: Melody, sources: Sequence[Section], *, seed: int
) -> Iterator[Planned]:
    """Plan the phrases one after another, so that nobody waits for those not asked for.

    Parameters
    ----------
    laid : Tune
        The bars to be filled, with their changes.
    form : Form
        Its sections.
    melody : Melody
        The tune they come from.
    sources : sequence of Section
        For each section of `form`, the section of the tune whose bars it has.
    seed : int
        Another seed gives another plan.

    Yields
    ------
    Planned
        In order.
    """
    planner = _Planner(laid, melody, seed)
    for place, (section, source) in enumerate(zip(form.sections, sources, strict=True)):
        planner.add(section, source, last=place == len(form.sections) - 1)
    yield from planner.made()


class _Planner:
    """Decides first what all phrases do, then to which rhythm."""

    def __init__(self, laid: Tune, melody: Melody, seed: int) -> None:
        self.laid = laid
        self.melody = melody
        self.limits = melody.limits
        self.level = melody.limits.level
        self.book = Cells(melody)
        self.mark = f"{self.level} {seed} {melody.fingerprint}"
        self.taste = Taste(self.mark, melody)
        feel = melody.sheet.feel.lower()
        self.swung = "swing" in feel or (not feel and mostly_sevenths(melody.sheet))
        self.times: dict[str, int] = {}
        self.first_plan = Random(self.mark).randrange(len(plans(self.level)))
        self.tasks: list[_Task] = []

    def add(self, section: Section, source: Section, *, last: bool) -> None:
        """Decide what the phrases of a section do."""
        time = self.times.get(section.label, 0)
        self.times[section.label] = time + 1
        bars = [
            k
            for k in range(section.first, section.last + 1)
            if not self.laid.bars[k].pickup
        ]
        groups = [tuple(bars[k : k + 2]) for k in range(0, len(bars), 2)]
        moves = self._moves(len(groups), time, last=last, odd=len(bars) % 2 == 1)
        stated: int | None = None
        for turn, (group, move) in enumerate(zip(groups, moves, strict=True)):
            final = last and turn == len(groups) - 1
            role: Role = "answer" if turn % 2 or final else "question"
            cell = self._cell(source, group, time + turn // 4)
            same = move == "sequence" and stated is not None
            if stated is not None and same:
                cell = self.tasks[stated].cell
            if move == "state":
                stated = len(self.tasks)
            self.tasks.append(
                _Task(
                    section.label, group, role, move, source, cell, stated if same else None
                )
            )

    def _moves(self, count: int, time: int, *, last: bool, odd: bool) -> list[Move]:
        choice = plans(self.level)
        moves: list[Move] = []
        for group in range(0, count, 4):
            place = self.first_plan + time + group // 4
            moves += choice[place % len(choice)][: min(4, count - group)]
        whole = count - odd
        if whole >= 2:
            # However many phrases there are, the last pair ends in an answer.
            moves[whole - 1 - (whole % 2)] = "answer"
        if odd and count > 1:
            closes = last or (count - 1) % 2
            moves[-1] = "answer" if closes else "rest"
        return moves

    def _cell(self, source: Section, bars: Sequence[int], time: int) -> Cell | None:
        meter = self.laid.bars[bars[0]].meter
        found = sorted(
            self.book.of(source, meter), key=lambda cell: self._liking(cell, meter)
        )
        if not found:
            return None
        # A beginner keeps to one idea; others take the next where the section comes again.
        place = 0 if self.level == "beginner" else time % 2
        return found[min(place, len(found) - 1)]

    def _liking(self, cell: Cell, meter: Meter) -> float:
        places = [cell.place + onset for onset in cell.onsets]
        rows: dict[int, list[Fraction]] = {}
        for at in places:
            bar, inside = divmod(at, meter.bar_length)
            rows.setdefault(bar, []).append(inside)
        return sum(self.taste.bar(meter, tuple(row)) for row in rows.values()) / len(rows)

    def made(self) -> Iterator[Planned]:
        """Lay out the rhythms, each phrase leaving room for what comes next."""
        drawn: list[_Draw] = []
        silence = Fraction(0)
        before: tuple[Meter, Onsets] | None = None
        for task, after in zip(self.tasks, [*self.tasks[1:], None], strict=True):
            bars = [self.laid.bars[k] for k in task.bars]
            starts, now = [], Fraction(0)
            for bar in bars:
                starts.append((now, bar.meter))
                now += bar.meter.bar_length
            meter = bars[-1].meter
            breath = self.limits.breath(meter)
            lead = max(Fraction(0), silence - breath)
            best: tuple[float, _Draw, tuple[Stroke, ...]] | None = None
            for draw in self._draws(task, drawn):
                if draw.plainest and best is not None and best[0] < _TOO_FEW:
                    break
                rest = max(self._rest(meter, draw), breath + _pickup(after))
                room = Room(tuple(starts), lead, now - rest)
                taken = with_breaths(self._strokes(task, draw, room), meter, self.limits)
                cost = self.taste.phrase(room.bars, taken, before)
                cost += _TOO_FEW * (len(taken) < 2 and task.move != "rest")
                if best is None or cost < best[0]:
                    best = (cost, draw, taken)
            assert best is not None
            _, draw, taken = best
            drawn.append(draw)
            if before is not None:
                self.taste.keep(before[0], lead_in(before, taken))
            rows = rows_of(starts, taken)
            for (_, at), row in zip(starts[:-1], rows[:-1], strict=True):
                self.taste.keep(at, row)
            before = (meter, rows[-1])
            silence = now - taken[-1].end if taken else silence + now
            move = task.move if taken else "rest"
            if draw.plainest and move not in ("answer", "rest"):
                # What there was no room for is not told either.
                move = "state"
            yield Planned(
                task.label, task.bars, task.role, move, task.source, task.cell, taken,
                min(silence, now),
            )  # fmt: skip

    def _draws(self, task: _Task, drawn: Sequence[_Draw]) -> Iterator[_Draw]:
        """Yield the ways in which a phrase may be laid out."""
        count = len(task.bars)
        if task.move == "rest":
            yield _Draw(((),) * count, "")
            return
        if task.stated is not None and count == len(self.tasks[task.stated].bars):
            # The same idea: laid out like its statement, by a beginner to the dot.
            like = drawn[task.stated]
            yield like
            if self.level == "beginner":
                return
            offered: tuple[Layout, ...] = (like.layout,)
        else:
            offered = layouts(self.level, task.move)
        for layout in (*offered, _PLAINEST):
            for turn in range(_TURNS):
                cut = layout[-count:] if task.move == "answer" else layout[:count]
                chance = f"{self.mark} {len(drawn)} {turn}"
                yield _Draw(cut, chance, plainest=layout is _PLAINEST)

    def _rest(self, meter: Meter, draw: _Draw) -> Fraction:
        usual, least = self.limits.usual_rest(meter), self.limits.breath(meter)
        return Random(f"rest {draw.chance}").choice((usual, least))

    def _strokes(self, task: _Task, draw: _Draw, room: Room) -> tuple[Stroke, ...]:
        if task.move == "rest":
            return ()
        meter = room.bars[-1][1]
        if task.cell is None:
            meters = tuple(meter for _, meter in room.bars)
            turn = task.bars[0] // 2
            prompt = prompt_for(self.level, task.role, turn, room.end, meters)
            return tuple(Stroke(onset, length) for onset, length in prompt.notes)
        return strokes(
            draw.layout,
            room,
            task.cell,
            close=self.book.last_figure(task.source, meter),
            landings=self.book.landings(meter),
            swung=self.swung,
            limits=self.limits,
            rng=Random(draw.chance),
        )


def _pickup(task: _Task | None) -> Fraction:
    """Say how much silence a phrase may want before its first bar line."""
    if task is None or task.cell is None or task.move == "rest":
        return Fraction(0)
    return max(Fraction(0), -task.cell.place)
