"""What the referee looks at: a level's finished music, and which edit made what of it.

Edits are applied one by one with the kit's own `apply_edit`, because that is what a level
is; everything else here is read off the notes. A sound or a chord that is not in the music
before an edit belongs to that edit.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

from kit.levels.edit import Edit
from kit.levels.edits import apply_edit
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Note, Tune


@dataclass(frozen=True)
class Heard:
    """A sounding note, ties joined; times in quarter notes from the first written bar."""

    start: Fraction
    end: Fraction
    midi: int
    graces: tuple[int, ...]
    marks: tuple[str, ...]
    bar: int = field(compare=False)
    onset: Fraction = field(compare=False)
    """From the start of the full bar: that of a pick-up is counted as if it were full."""

    @property
    def length(self) -> Fraction:
        return self.end - self.start


@dataclass(frozen=True)
class Chord:
    """A chord from its moment to the next one's."""

    start: Fraction
    end: Fraction = field(compare=False)
    symbol: ChordSymbol
    bar: int = field(compare=False)


class Sheet:
    """A tune laid out on one line of time."""

    def __init__(self, tune: Tune) -> None:
        self.tune = tune
        self.starts = [Fraction(0)]
        for bar in tune.bars:
            self.starts.append(self.starts[-1] + bar.length)

    @cached_property
    def notes(self) -> tuple[Heard, ...]:
        found: list[Heard] = []
        held: tuple[Fraction, int, Note, list[str]] | None = None
        for index, bar in enumerate(self.tune.bars):
            for note in bar.notes:
                start = self.starts[index] + note.onset
                if held is not None and (
                    note.pitch is None or note.pitch.midi != held[2].pitch.midi
                ):
                    found.append(self._heard(*held, start))
                    held = None
                if note.pitch is None:
                    continue
                if held is None:
                    held = (start, index, note, list(note.marks))
                else:
                    held[3].extend(m for m in note.marks if m not in held[3])
                if not note.tied:
                    found.append(self._heard(*held, start + note.duration))
                    held = None
        if held is not None:
            found.append(self._heard(*held, self.starts[-1]))
        return tuple(found)

    def _heard(
        self, start: Fraction, index: int, note: Note, marks: list[str], end: Fraction
    ) -> Heard:
        bar = self.tune.bars[index]
        lead = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
        return Heard(
            start,
            end,
            note.pitch.midi,
            tuple(grace.pitch.midi for grace in note.graces),
            tuple(sorted(marks)),
            index,
            start - self.starts[index] + lead,
        )

    @cached_property
    def chords(self) -> tuple[Chord, ...]:
        events = [
            (self.starts[index] + event.onset, event.symbol, index)
            for index, bar in enumerate(self.tune.bars)
            for event in bar.chords
        ]
        ends = [*(start for start, _, _ in events), self.starts[-1]][1:]
        return tuple(
            Chord(start, end, symbol, index)
            for (start, symbol, index), end in zip(events, ends, strict=False)
        )

    def chord_at(self, moment: Fraction) -> Chord | None:
        place = bisect_right(self.chords, moment, key=lambda chord: chord.start)
        return self.chords[place - 1] if place else None

    def bar_of(self, note: Heard) -> Bar:
        return self.tune.bars[note.bar]

    def pairs(self) -> Iterator[tuple[Heard, Heard]]:
        """Neighbours with less than a quarter rest between them."""
        for one, other in zip(self.notes, self.notes[1:], strict=False):
            if other.start - one.end < 1:
                yield one, other


@dataclass
class Level:
    """A level as finished, over the one below it and the plain tune.

    `idiom` is what the tune truly is, `pulse_tempo` felt beats a minute, `route` its rows
    in TOML.
    """

    name: str
    idiom: str
    plain: Sheet
    below: Sheet
    done: Sheet
    edits: tuple[Edit, ...]
    pulse_tempo: float
    route: tuple[str, ...]
    owner: dict[Heard | Chord, int]

    @property
    def quarter_s(self) -> float:
        """Seconds that a quarter note lasts."""
        return 60.0 / (self.pulse_tempo * float(self.done.tune.meter.pulse))

    @property
    def bold(self) -> bool:
        return self.name == "advanced"

    def new(self) -> Iterator[tuple[Heard, int]]:
        """Give the sounds that edits have made or changed, with the edit's number."""
        for note in self.done.notes:
            if note in self.owner:
                yield note, self.owner[note]

    def seconds(self, quarters: Fraction) -> float:
        return float(quarters) * self.quarter_s


def level_of(
    name: str,
    idiom: str,
    plain: Tune,
    below: Tune,
    edits: Sequence[Edit],
    *,
    tempo: float,
    route: Sequence[str],
) -> Level:
    """Apply a level's edits, and note which of them made what."""
    owner: dict[Heard | Chord, int] = {}
    tune = below
    before = Sheet(tune)
    known = {*before.notes, *before.chords}
    for number, edit in enumerate(edits):
        tune = apply_edit(tune, edit)
        after = Sheet(tune)
        now = {*after.notes, *after.chords}
        for item in now - known:
            owner[item] = number
        known = now
    owner = {item: number for item, number in owner.items() if item in known}
    return Level(
        name,
        idiom,
        Sheet(plain),
        Sheet(below),
        Sheet(tune),
        tuple(edits),
        tempo,
        tuple(route),
        owner,
    )


@dataclass(frozen=True)
class Finding:
    """An edit to strike out; the higher `how_bad`, the worse."""

    rule: str
    edit: int
    words: str
    how_bad: float = 1.0


Rule = Callable[[Level], Iterator[Finding]]
