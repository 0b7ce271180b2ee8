"""What is to be said beside the bars of an excerpt, in the order of the bars?"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from kit.check.finding import Finding
from kit.check.lesson import findings_beside
from kit.form.wording import bars_words
from kit.lesson.choices import Stretch
from kit.lesson.lesson import Lesson
from kit.tune.model import Tune, bar_id
from kit.tune.pitch import Key

__all__ = ["Remark", "flags", "remarks", "ringed"]


@dataclass(frozen=True, slots=True)
class Remark:
    """A finding as it stands under some bars of music.

    `bars` are indices of the sheet, those shown only.
    """

    where: str
    severity: str
    sentence: str
    bars: tuple[int, ...]
    notes: tuple[str, ...]

    @property
    def words(self) -> str:
        """The remark as one line of text."""
        return f"{self.where} ({self.severity}): {self.sentence}"


def remarks(
    lesson: Lesson,
    *,
    level: str,
    instrument: str,
    concert_key: Key | None,
    stretch: Stretch,
) -> tuple[Remark, ...]:
    """Give what is to be said about the bars of a stretch, from left to right."""
    sheet = lesson.level(level).sheet
    found = findings_beside(lesson, level, instrument, concert_key=concert_key)
    shown = range(stretch.first, stretch.last + 1)
    said = [one for finding in found if (one := _remark(finding, sheet, shown))]
    return tuple(sorted(said, key=lambda remark: remark.bars[0]))


def _remark(finding: Finding, sheet: Tune, shown: range) -> Remark | None:
    bars = tuple(index for index in finding.bars if index in shown)
    if not bars:
        return None
    where = bars_words(sheet.bars[index].number for index in bars)
    sentence = finding.sentence
    return Remark(
        where=where[:1].upper() + where[1:],
        severity=finding.severity,
        sentence=sentence[:1].upper() + sentence[1:],
        bars=bars,
        notes=finding.notes,
    )


def flags(sheet: Tune, *meant: Collection[int]) -> dict[str, int]:
    """Give the bars to mark in a drawing, by their printed numbers.

    Of the bars that one finding means, the first of each run is marked: a triangle at each
    of sixteen bars in a row would say no more.
    """
    return {
        bar_id(index): sheet.bars[index].number
        for bars in meant
        for index in bars
        if index - 1 not in bars
    }


def ringed(said: Sequence[Remark]) -> frozenset[str]:
    """Give the ids of all notes to ring."""
    return frozenset(note for remark in said for note in remark.notes)
