"""What is made of a cell in one phrase?

Conventions
-----------
* A phrase is laid out bar by bar from parts of the cell (develop.toml). Onsets are quarter
  notes from its first bar line; a pick-up lies below zero, in the silence before.
* Notes hang together: a gap shorter than a beat is filled by holding the note before it.
* Each stroke keeps the staff steps that the cell has there, for whoever chooses pitches; on
  the first note of a part there are none.

Source: common practice of teaching improvisation; see develop.toml.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from random import Random
from typing import Literal

from kit.solo._cells import Cell
from kit.solo._limits import Limits
from kit.tune.model import Meter

__all__ = ["Layout", "Move", "Room", "Stroke", "layouts", "plans", "strokes"]

Move = Literal[
    "state", "sequence", "invert", "vary", "displace", "fragment", "run", "answer", "rest"
]
Layout = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """A note of a phrase before it has a pitch.

    `step` is its distance from the note before in staff steps, None where it is free; `of`
    its place in the cell, None where it is no note of the cell's first appearance.
    """

    onset: Fraction
    duration: Fraction
    step: int | None = None
    of: int | None = None

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class Room:
    """What a phrase has to fit into.

    `bars` are its bars with where each begins; `lead` is the silence before it that a
    pick-up may take; `end` is where its last note has to stop.
    """

    bars: tuple[tuple[Fraction, Meter], ...]
    lead: Fraction
    end: Fraction


@cache
def _table() -> dict[str, list[dict[str, object]]]:
    text = files("kit.solo").joinpath("develop.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def plans(level: str) -> tuple[tuple[Move, ...], ...]:
    """Give what four phrases in a row may do at a level."""
    rows = _table()["plans"]
    return tuple(tuple(row["moves"]) for row in rows if row["level"] == level)  # type: ignore[arg-type]


@cache
def layouts(level: str, move: Move) -> tuple[Layout, ...]:
    """Give the layouts of a move; a sequence is laid out as a statement is."""
    rows = _table()["layouts"]
    wanted = "state" if move == "sequence" else move
    return tuple(
        tuple(tuple(bar) for bar in row["bars"])  # type: ignore[attr-defined]
        for row in rows
        if row["level"] == level and row["move"] == wanted
    )


def strokes(
    layout: Layout,
    room: Room,
    cell: Cell,
    *,
    close: Cell | None,
    landings: Sequence[Fraction],
    swung: bool,
    limits: Limits,
    rng: Random,
) -> tuple[Stroke, ...]:
    """Lay a phrase out.

    Parameters
    ----------
    layout : tuple of tuple of str
        The parts of each bar.
    room : Room
        Its bars, and the silence around it.
    cell, close : Cell
        The idea, and the notes with which the section comes to rest, if there are any.
    landings : sequence of Fraction
        Places for a long note.
    swung : bool
        Whether the style shifts by half beats.
    limits : Limits
        What the level allows.
    rng : Random
        Decides where several things would do.
    """
    return _Maker(room, cell, close, landings, swung, limits, rng).made(layout)


@dataclass(slots=True)
class _Maker:
    """Lays one phrase out, part by part."""

    room: Room
    cell: Cell
    close: Cell | None
    landings: Sequence[Fraction]
    swung: bool
    limits: Limits
    rng: Random
    taken: list[Stroke] = field(default_factory=list)

    def made(self, layout: Layout) -> tuple[Stroke, ...]:
        parts: dict[str, Callable[[Fraction, Meter], Iterator[Stroke]]] = {
            "cell": self._cell, "head": self._head, "tail": self._tail,
            "varied": self._varied, "later": self._later, "run": self._run,
            "follow": self._follow,
            "landing": self._landing, "close": self._close,
        }  # fmt: skip
        for (start, meter), names in zip(self.room.bars, layout, strict=False):
            for name in names:
                self._add(list(parts[name](start, meter)), meter)
        return self._finished()

    def _add(self, new: Sequence[Stroke], meter: Meter) -> None:
        """Put a part behind what is there, as far as there is room for it."""
        grid = self.limits.grid(meter)
        for stroke in new:
            last = self.taken[-1] if self.taken else None
            if stroke.onset + grid > self.room.end or stroke.onset < -self.room.lead:
                continue
            if last is not None and stroke.onset < last.onset + grid:
                continue
            if not self.limits.off_beat and not self._steady(stroke.onset):
                continue
            self.taken.append(stroke)

    def _steady(self, onset: Fraction) -> bool:
        """Whether a note stands on a beat, behind one on its beat, or before a bar line."""
        start, meter = self._bar_at(onset)
        off = (onset - start) % meter.pulse
        leads = onset - off + meter.pulse - start == meter.bar_length
        return not off or leads or any(s.onset == onset - off for s in self.taken[-2:])

    def _bar_at(self, onset: Fraction) -> tuple[Fraction, Meter]:
        if onset < 0:
            return -self.room.bars[0][1].bar_length, self.room.bars[0][1]
        return max((bar for bar in self.room.bars if bar[0] <= onset), key=lambda b: b[0])

    def _finished(self) -> tuple[Stroke, ...]:
        pulse = self.room.bars[0][1].pulse
        found: list[Stroke] = []
        # A phrase begins behind a rest.
        silence = pulse
        for stroke, after in zip(self.taken, [*self.taken[1:], None], strict=False):
            limit = self.room.end if after is None else after.onset
            duration = min(stroke.duration, limit - stroke.onset)
            # A short gap would look like a stumble; a longer one is a rest that is meant.
            if after is not None and limit - stroke.onset - duration < pulse:
                duration = limit - stroke.onset
            if duration <= pulse <= min(silence, limit - stroke.onset - duration):
                # A short note with silence around it sounds like a mistake: it is held.
                duration = min(limit - stroke.onset, 2 * pulse)
            start, meter = self._bar_at(stroke.onset)
            off = (stroke.onset - start) % meter.pulse
            if off and not self.limits.off_beat:
                # Held over the beat it would be a syncopation.
                duration = min(duration, meter.pulse - off)
            found.append(replace(stroke, duration=duration))
            silence = limit - found[-1].end
        return tuple(found)

    def _notes(
        self, start: Fraction, cell: Cell, first: int = 0, last: int | None = None
    ) -> Iterator[Stroke]:
        """Give notes of a cell whose bar begins at `start`."""
        last = len(cell.onsets) - 1 if last is None else last
        whole = cell is self.cell and not any(s.of is not None for s in self.taken)
        for k in range(first, last + 1):
            yield Stroke(
                start + cell.place + cell.onsets[k],
                cell.durations[k],
                cell.steps[k - 1] if k > first else None,
                k if whole else None,
            )

    def _anchored(self, start: Fraction, meter: Meter) -> Fraction:
        """Move a cell that begins before the bar line, where no silence takes its start."""
        before = self.taken[-1].end if self.taken else -self.room.lead
        while start + self.cell.place < before:
            start += meter.pulse
        return start

    def _cell(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        yield from self._notes(self._anchored(start, meter), self.cell)

    def _head(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        count = self.rng.randint(2, max(2, len(self.cell.onsets) - 1))
        head = list(self._notes(self._anchored(start, meter), self.cell, 0, count - 1))
        head[-1] = replace(head[-1], duration=max(head[-1].duration, meter.pulse))
        yield from head

    def _tail(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        cell = self.cell
        first = max(0, len(cell.onsets) - 2)
        shift = Fraction(0)
        if self.taken:
            # Behind another part it follows on the next beat.
            begin = start + cell.place + cell.onsets[first]
            while begin + shift < self.taken[-1].end:
                shift += meter.pulse
        yield from self._notes(start + shift, cell, first)

    def _varied(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        """Give the cell with its last note split, left out or moved."""
        notes = list(self._notes(self._anchored(start, meter), self.cell))
        last = notes[-1]
        grid = self.limits.grid(meter)
        ways = []
        half = last.duration / 2 // grid * grid
        if half >= grid and (last.onset + half) % grid == 0:
            way = self.rng.choice((-1, 1))
            again = Stroke(last.onset + half, last.duration - half, way)
            ways.append([*notes[:-1], replace(last, duration=half), again])
        if len(notes) > 2:
            before = notes[-2]
            held = replace(before, duration=last.onset - before.onset + grid)
            ways.append([*notes[:-2], held])
        ways += [
            [*notes[:-1], replace(last, onset=last.onset + by)]
            for by in (meter.pulse, grid if self.limits.off_beat else meter.pulse)
        ]
        yield from self.rng.choice(ways)

    def _later(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        by = meter.pulse
        if self.swung and not meter.is_compound:
            by = self.rng.choice((meter.pulse, meter.pulse / 2))
        for stroke in self._notes(self._anchored(start, meter), self.cell):
            yield replace(stroke, onset=stroke.onset + by)

    def _run(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        """Fill the rest of the bar with the level's quick notes, in one direction."""
        grid = self.limits.grid(meter)
        # Beats are cut in two (three in a lilt); finer runs are another level's art.
        grid = max(grid, meter.pulse / (3 if meter.is_compound else 2))
        now = self.taken[-1].onset if self.taken else start
        # The last note of what came before stays long enough to be heard as its end.
        now += max(grid, meter.pulse / 2 if not meter.is_compound else grid)
        now = start + -((start - now) // grid) * grid
        way = self.rng.choice((-1, 1))
        if self.taken:
            self.taken[-1] = replace(self.taken[-1], duration=now - self.taken[-1].onset)
        while now < start + meter.bar_length:
            yield Stroke(now, grid, way)
            now += grid

    def _follow(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        """Go on as the tune does after the cell, a few notes, and hold the last of them."""
        if not self.taken or not self.cell.after:
            yield from self._landing(start, meter)
            return
        shift = self.taken[0].onset
        latest = self.room.end - meter.pulse
        notes = [
            Stroke(shift + onset, duration)
            for onset, duration in self.cell.after
            if start <= shift + onset <= max(latest, start)
        ][: self.rng.randint(1, self.limits.cell[1] - 1)]
        if not notes:
            yield from self._landing(start, meter)
            return
        notes[-1] = replace(notes[-1], duration=max(notes[-1].duration, meter.pulse))
        yield from notes

    def _landing(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        latest = self.room.end - start - meter.pulse
        places = [place for place in self.landings if place <= latest][:3]
        place = self.rng.choice(places) if places else Fraction(0)
        yield Stroke(start + place, meter.bar_length)

    def _close(self, start: Fraction, meter: Meter) -> Iterator[Stroke]:
        if self.close is None:
            yield from self._landing(start, meter)
            return
        least = min(2, len(self.close.onsets))
        count = self.rng.randint(least, len(self.close.onsets))
        notes = list(self._notes(start, self.close, len(self.close.onsets) - count))
        latest = self.room.end - meter.pulse
        while notes[-1].onset > max(latest, start):
            notes = [replace(s, onset=s.onset - meter.pulse) for s in notes]
        # The goal is the one long note that a listener waits for.
        notes[-1] = replace(notes[-1], duration=max(notes[-1].duration, meter.pulse))
        yield from notes
