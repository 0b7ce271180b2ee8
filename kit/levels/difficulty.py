"""How hard is a level to play, and why?

Each part measures one thing about the written bars, says it in words, and turns it into a
score from 1.0 to 10.0 by a table (difficulty.toml). The overall figure is their weighted
quadratic mean, in which one hard thing counts for more than several easy ones take off.

Conventions: tempo in quarter notes per minute; open bars (without a note) are left out of
means. Source: the scale is our own; syncopation after Longuet-Higgins & Lee (1984), see
`kit.levels.syncopation`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from itertools import pairwise
from math import sqrt
from typing import Protocol

from kit.form.wording import counted
from kit.levels.rewrite import sounds_of
from kit.levels.syncopation import syncopations
from kit.tune.model import Bar, Note, Tune
from kit.tune.pitch import Pitch

__all__ = ["BarDifficulty", "Difficulty", "PartScore", "difficulty", "difficulty_by_bar"]


class HasRange(Protocol):
    """An instrument, as far as difficulty is concerned."""

    @property
    def range_written(self) -> tuple[Pitch, Pitch]:
        """Lowest and highest written pitch."""


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of a difficulty: score 1.0 to 10.0, and what was measured, in words."""

    value: float
    words: str


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard a level is: `overall` from 1.0 to 10.0 with one decimal, and its parts."""

    overall: float
    parts: Mapping[str, PartScore]

    @property
    def sentence(self) -> str:
        """The figure with the two parts that count most."""
        first = sorted(self.parts.items(), key=_contribution, reverse=True)[:2]
        why = " and ".join(f"{name} ({score.words})" for name, score in first)
        return f"Difficulty {self.overall:.1f} of 10, most of all {why}."


def _contribution(item: tuple[str, PartScore]) -> float:
    name, score = item
    return _scales()[name].weight * score.value * score.value


@dataclass(frozen=True, slots=True)
class BarDifficulty:
    """One bar's difficulty.

    `bar` is its index on the sheet, `same_as` the printed number of an earlier bar with the
    very same notes, None for a new one.
    """

    bar: int
    number: int
    overall: float
    same_as: int | None = None


@dataclass(frozen=True, slots=True)
class _Scale:
    """A row of the table."""

    name: str
    unit: str
    easy: float
    hard: float
    weight: float

    def score(self, measure: float) -> float:
        share = (measure - self.easy) / (self.hard - self.easy)
        return round(1 + 9 * min(1.0, max(0.0, share)), 1)


@cache
def _scales() -> dict[str, _Scale]:
    text = files("kit.levels").joinpath("difficulty.toml").read_text(encoding="utf-8")
    rows = [_Scale(**row) for row in tomllib.loads(text)["parts"]]
    return {row.name: row for row in rows}


def difficulty(
    sheet: Tune, tempo_qpm: float, *, instrument: HasRange | None = None
) -> Difficulty:
    """Measure how hard a sheet is at a tempo.

    Parameters
    ----------
    sheet : Tune
        A level's bars as written; a written part (in the player's key) where the key is
        to count as the player reads it.
    tempo_qpm : float > 0
        Quarter notes per minute.
    instrument : optional
        Anything with ``range_written``; adds the part "register".

    Raises
    ------
    ValueError
        If the tempo is not above zero.
    """
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    measures = _Measures(sheet, tempo_qpm)
    parts = measures.parts()
    if instrument is not None:
        parts["register"] = measures.register(instrument)
    return Difficulty(_overall(parts), parts)


def _overall(parts: Mapping[str, PartScore]) -> float:
    """Weighted quadratic mean of the parts."""
    weights = {name: _scales()[name].weight for name in parts}
    squares = sum(weights[name] * parts[name].value ** 2 for name in parts)
    return round(sqrt(squares / sum(weights.values())), 1)


class _Measures:
    """What can be counted on a sheet."""

    def __init__(self, sheet: Tune, tempo_qpm: float) -> None:
        self.sheet = sheet
        self.tempo_qpm = tempo_qpm
        self.sounds = sounds_of(sheet)

    def parts(self) -> dict[str, PartScore]:
        found = (
            self._speed(), self._range(), self._leaps(), self._chromatic(),
            self._syncopation(), self._rhythm(), self._key(), self._breath(),
            self._decoration(),
        )  # fmt: skip
        return dict(found)

    def _part(self, name: str, measure: float, words: str) -> tuple[str, PartScore]:
        return name, PartScore(_scales()[name].score(measure), words)

    def _speed(self) -> tuple[str, PartScore]:
        quarters = sum(float(sound.duration) for sound in self.sounds)
        seconds = quarters * 60 / self.tempo_qpm
        attacks = len(self.sounds) + sum(len(sound.graces) for sound in self.sounds)
        rate = attacks / seconds if seconds else 0.0
        return self._part("speed", rate, f"{rate:.1f} notes a second while you play")

    def _range(self) -> tuple[str, PartScore]:
        pitches = sorted(sound.pitch for sound in self.sounds)
        if not pitches:
            return self._part("range", 0, "no notes")
        span = pitches[-1].midi - pitches[0].midi
        return self._part("range", span, f"{pitches[0]} to {pitches[-1]}")

    def _leaps(self) -> tuple[str, PartScore]:
        steps = [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(self.sounds)]
        mean = sum(steps) / len(steps) if steps else 0.0
        wide = sum(step > 7 for step in steps)
        return self._part("leaps", mean, f"{counted(wide, 'leap')} wider than a fifth")

    def _chromatic(self) -> tuple[str, PartScore]:
        outside = total = 0
        for bar in self.sheet.bars:
            inside = {name.pitch_class for name in bar.key.scale}
            for note in bar.notes:
                if note.pitch is not None:
                    total += 1
                    outside += note.pitch.midi % 12 not in inside
        share = 100 * outside / total if total else 0.0
        words = f"{counted(outside, 'note')} outside the key signature"
        return self._part("chromatic notes", share, words)

    def _syncopation(self) -> tuple[str, PartScore]:
        found = syncopations(self.sheet)
        bars = sum(_plays(bar) for bar in self.sheet.bars)
        rate = sum(item.strength for item in found) / bars if bars else 0.0
        return self._part("syncopation", rate, f"{counted(len(found), 'syncopated note')}")

    def _rhythm(self) -> tuple[str, PartScore]:
        beats = fine = 0
        for bar in self.sheet.bars:
            unit = bar.meter.pulse / (3 if bar.meter.is_compound else 2)
            cut = {
                note.onset // bar.meter.pulse
                for note in bar.notes
                if note.pitch is not None and note.onset % unit
            }
            fine += len(cut)
            beats += bar.meter.pulses if _plays(bar) else 0
        share = 100 * fine / beats if beats else 0.0
        words = f"{counted(fine, 'beat')} with triplets or sixteenths"
        return self._part("rhythm", share, words)

    def _key(self) -> tuple[str, PartScore]:
        most = max((bar.key.fifths for bar in self.sheet.bars), key=abs, default=0)
        noun = "sharp" if most > 0 else "flat"
        words = counted(abs(most), noun) if most else "no sharps or flats"
        return self._part("key", abs(most), words)

    def _breath(self) -> tuple[str, PartScore]:
        longest = start = end = None
        for sound in self.sounds:
            if end is None or start is None or sound.start > end:
                start = sound.start
            end = sound.end
            longest = end - start if longest is None else max(longest, end - start)
        seconds = float(longest or 0) * 60 / self.tempo_qpm
        return self._part("breath", seconds, f"up to {seconds:.0f} seconds without a rest")

    def _decoration(self) -> tuple[str, PartScore]:
        decorated = sum(bool(sound.graces or sound.marks) for sound in self.sounds)
        share = 100 * decorated / len(self.sounds) if self.sounds else 0.0
        words = f"{counted(decorated, 'note')} with a mark or grace note"
        return self._part("decoration", share, words)

    def register(self, instrument: HasRange) -> PartScore:
        low, high = instrument.range_written
        edge = (high.midi - low.midi) / 5
        outer = sum(
            not low.midi + edge <= sound.pitch.midi <= high.midi - edge
            for sound in self.sounds
        )
        share = 100 * outer / len(self.sounds) if self.sounds else 0.0
        words = f"{counted(outer, 'note')} high or low on the instrument"
        return PartScore(_scales()["register"].score(share), words)


def _plays(bar: Bar) -> bool:
    return any(note.pitch is not None for note in bar.notes)


def difficulty_by_bar(sheet: Tune, tempo_qpm: float) -> tuple[BarDifficulty, ...]:
    """Measure every full bar that has notes on its own, for finding what to practise.

    Raises
    ------
    ValueError
        If the tempo is not above zero.
    """
    seen: dict[tuple[Note, ...], int] = {}
    found = []
    for index, bar in enumerate(sheet.bars):
        if bar.pickup or not _plays(bar):
            continue
        alone = difficulty(replace(sheet, bars=(bar,)), tempo_qpm)
        same_as = seen.get(bar.notes)
        seen.setdefault(bar.notes, bar.number)
        found.append(BarDifficulty(index, bar.number, alone.overall, same_as))
    return tuple(found)
