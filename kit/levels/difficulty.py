"""How hard is a level to play, and why?

Each part measures one thing about the written bars, says it in words, and turns it into a
score from 1.0 to 10.0 by a table (difficulty.toml). The overall figure is their weighted
quadratic mean, in which one hard thing counts for more than several easy ones take off.

Conventions: tempo in quarter notes per minute; open bars (without a note) are left out of
means. Source: the scale is our own; syncopation after Longuet-Higgins & Lee (1984), see
`kit.levels._syncopation`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from math import sqrt
from statistics import median

from kit.levels._measures import Measure, awkward_steps, figures, measures
from kit.levels._player import Player, written_sheet
from kit.levels._tally import Gauge, plays
from kit.levels.rewrite import Sound, sounds_of
from kit.tune.model import Note, Tune

__all__ = ["BarDifficulty", "Difficulty", "PartScore", "difficulty", "difficulty_by_bar",
           "overall_difficulty"]  # fmt: skip

_EASIEST = 1.0


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of a difficulty: score 1.0 to 10.0, what was measured, and its weight."""

    value: float
    words: str
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard a level is: `overall` from 1.0 to 10.0 with one decimal, and its parts."""

    overall: float
    parts: Mapping[str, PartScore]

    @property
    def sentence(self) -> str:
        """The figure with the two parts that count most."""
        first = [(name, part) for name, part in self.ranked if part.value > _EASIEST][:2]
        why = " and ".join(f"{name} ({part.words})" for name, part in first)
        figure = f"Difficulty {self.overall:.1f} of 10"
        return f"{figure}, most of all {why}." if why else f"{figure}: nothing is hard."

    @property
    def ranked(self) -> tuple[tuple[str, PartScore], ...]:
        """The parts with their names, what counts most first."""
        return tuple(sorted(self.parts.items(), key=_contribution, reverse=True))


def _contribution(item: tuple[str, PartScore]) -> float:
    part = item[1]
    return part.weight * part.value * part.value


@dataclass(frozen=True, slots=True)
class BarDifficulty:
    """One bar's difficulty.

    `bar` is its index on the sheet, `same_as` the printed number of an earlier bar with the
    very same notes, None for a new one. `why` is a clause on what makes it harder than the
    others, empty where nothing does.
    """

    bar: int
    number: int
    overall: float
    same_as: int | None = None
    why: str = ""


@dataclass(frozen=True, slots=True)
class _Scale:
    """A row of the table."""

    name: str
    unit: str
    easy: float
    hard: float
    weight: float
    why: str = ""

    def score(self, measure: float) -> float:
        share = (measure - self.easy) / (self.hard - self.easy)
        return round(1 + 9 * min(1.0, max(0.0, share)), 1)


@cache
def _scales() -> dict[str, _Scale]:
    text = files("kit.levels").joinpath("difficulty.toml").read_text(encoding="utf-8")
    rows = [_Scale(**row) for row in tomllib.loads(text)["parts"]]
    return {row.name: row for row in rows}


def difficulty(
    sheet: Tune,
    tempo_qpm: float,
    *,
    instrument: Player | None = None,
    concert: bool = False,
) -> Difficulty:
    """Measure how hard a sheet is at a tempo.

    Parameters
    ----------
    sheet : Tune
        A level's bars: a written part (``Part.tune``) where an instrument is given, unless
        `concert` says otherwise.
    tempo_qpm : float > 0
        Quarter notes per minute.
    instrument : optional
        Breath and register are then measured in the instrument's terms, and what is awkward
        for fingers, valves or slide (`kit.instruments.awkward`) is counted; all levels are
        measured by an intermediate player, so that they compare.
    concert : bool
        Whether the sheet stands at concert pitch, and is to be written for the instrument
        before it is measured.

    Raises
    ------
    ValueError
        If the tempo is not above zero, or a concert sheet comes without an instrument.
    """
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    if concert:
        if instrument is None:
            raise ValueError("a concert sheet is written for an instrument: name one")
        sheet = written_sheet(sheet, instrument)
    return _judged(measures(sheet, tempo_qpm, instrument))


def _judged(found: Sequence[Measure]) -> Difficulty:
    parts: dict[str, PartScore] = {}
    squares = weights = 0.0
    for measure in found:
        scale = _scales()[measure.row]
        score = scale.score(measure.figure)
        parts[measure.part] = PartScore(score, measure.words, scale.weight)
        squares += scale.weight * score**2
        weights += scale.weight
    return Difficulty(round(sqrt(squares / weights), 1), parts)


def overall_difficulty(gauge: Gauge, tempo_qpm: float) -> float:
    """Give the overall figure of a tune that changes bit by bit, as `difficulty` would.

    Parameters
    ----------
    gauge : Gauge
        The counts of the tune as it is.
    tempo_qpm : float > 0
        Quarter notes per minute.

    Returns
    -------
    float, 1.0 to 10.0
        With one decimal; no instrument is looked at.
    """
    found = figures(
        gauge.tally,
        span=gauge.span,
        signature=gauge.signature,
        breath=gauge.breaths.longest,
        tempo_qpm=tempo_qpm,
    )
    squares = weights = 0.0
    for row, figure in found.items():
        scale = _scales()[row]
        squares += scale.weight * scale.score(figure) ** 2
        weights += scale.weight
    return round(sqrt(squares / weights), 1)


def difficulty_by_bar(
    sheet: Tune, tempo_qpm: float, *, instrument: Player | None = None
) -> tuple[BarDifficulty, ...]:
    """Measure every full bar that has notes on its own, for finding what to practise.

    Parameters
    ----------
    sheet : Tune
        A level's bars: a written part where an instrument is given.
    tempo_qpm : float > 0
        Quarter notes per minute.
    instrument : optional
        Who plays it, as in `difficulty`. The step into a bar belongs to it.

    Raises
    ------
    ValueError
        If the tempo is not above zero.
    """
    if not tempo_qpm > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_qpm}")
    seen: dict[tuple[Note, ...], int] = {}
    bars: list[tuple[int, int | None, Difficulty, str]] = []
    before: Sound | None = None
    for index, bar in enumerate(sheet.bars):
        alone = replace(sheet, bars=(bar,))
        lead, before = before, _last_sound(alone)
        if bar.pickup or not plays(bar):
            continue
        found = _judged(measures(alone, tempo_qpm, instrument, lead))
        worst = _worst_step(alone, tempo_qpm, instrument, lead)
        bars.append((index, seen.get(bar.notes), found, worst))
        seen.setdefault(bar.notes, bar.number)
    usual = _middles([found for _, _, found, _ in bars])
    return tuple(
        BarDifficulty(
            index, sheet.bars[index].number, found.overall, same, _why(found, usual, step)
        )
        for index, same, found, step in bars
    )


def _last_sound(bar: Tune) -> Sound | None:
    """Give the sound that leads into the next bar, timed from that bar's start."""
    sounds, length = sounds_of(bar), bar.bars[0].length
    if sounds and sounds[-1].end == length:
        return replace(sounds[-1], start=sounds[-1].start - length)
    return None


def _worst_step(
    bar: Tune, tempo_qpm: float, player: Player | None, before: Sound | None
) -> str:
    """Say what the hands find worst in a bar."""
    if player is None:
        return ""
    sounds = (*([before] if before else []), *sounds_of(bar))
    steps = [step for step, _ in awkward_steps(sounds, tempo_qpm, player)]
    return max(steps, key=lambda step: step.cost).why if steps else ""


def _middles(found: Sequence[Difficulty]) -> dict[str, float]:
    """Give the middle contribution of each part to the bars."""
    names = {name: None for one in found for name in one.parts}
    return {
        name: median(_contribution((name, one.parts[name])) for one in found)
        for name in names
    }


def _why(bar: Difficulty, usual: Mapping[str, float], step: str) -> str:
    """Name what most makes a bar harder than the middle one, and what the hands do."""
    above = {
        # What the hands do has no scale of its own name, and words of its own.
        (_scales()[name].why if name in _scales() else step): _contribution((name, part))
        - usual[name]
        for name, part in bar.parts.items()
    }
    named = sorted((-more, why) for why, more in above.items() if why and more > 0)
    told = [why for _, why in named]
    return ", and ".join(why for why in told if why in (told[0], step))
