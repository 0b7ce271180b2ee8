"""Which file does a bar of a level's sheet come from?

A sheet holds the head and, behind it, the written solo. A `Leaf` is the part of it that
comes from one file, so that a finding names the file that has to be mended.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from kit.check.finding import Finding, Severity
from kit.instruments.part import Part
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.tune.model import Bar, Tune, note_id
from kit.tune.unfold import playing_order

__all__ = ["Leaf", "NotePlace", "leaf_of", "leaves"]

NotePlace = tuple[int, int]
"""Bar index in the leaf and position in the bar."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """Bars of one file, as they stand on a level's sheet.

    Parameters
    ----------
    tune : Tune
        These bars only, at concert pitch, numbered as on the sheet.
    order : tuple of int
        Their indices as played once through.
    file : str
        Where they can be mended.
    level : str, optional
        The level; None for the tune itself.
    first : int
        Index of the first of them on the sheet.
    offset : int
        What the sheet's numbers are ahead of the file's.
    """

    tune: Tune
    order: tuple[int, ...]
    file: str
    level: str | None = None
    first: int = 0
    offset: int = 0

    @property
    def played(self) -> tuple[Bar, ...]:
        """The bars once through, repeats written out."""
        return tuple(self.tune.bars[index] for index in self.order)

    def bars_of(self, part: Part) -> tuple[Bar, ...]:
        """Give the same bars as a player of the level reads them."""
        return part.tune.bars[self.first : self.first + len(self.tune.bars)]

    def places(self, of_sheet: Iterable[NotePlace]) -> tuple[NotePlace, ...]:
        """Keep the places of a sheet that lie on the leaf, counted from its start."""
        return tuple(
            (bar - self.first, position)
            for bar, position in of_sheet
            if 0 <= bar - self.first < len(self.tune.bars)
        )

    def numbers(self, bars: Iterable[int]) -> tuple[int, ...]:
        """Give the printed numbers of bars, each once, in order."""
        return tuple(sorted({self.tune.bars[index].number for index in bars}))

    def finding(
        self,
        severity: Severity,
        code: str,
        text: str,
        *,
        remedy: str,
        bars: Iterable[int] = (),
        notes: Iterable[NotePlace] = (),
        parts: Sequence[Part] = (),
    ) -> Finding:
        """Make a finding about bars and notes of the leaf."""
        places = sorted(set(notes))
        indices = sorted({*bars, *(bar for bar, _ in places)})
        numbers = self.numbers(indices)
        return Finding(
            severity,
            text,
            self.file,
            numbers[0] - self.offset if numbers else None,
            remedy,
            code=code,
            level=self.level,
            instruments=tuple(part.instrument.slug for part in parts),
            numbers=numbers,
            bars=tuple(self.first + index for index in indices),
            notes=tuple(note_id(self.first + bar, at) for bar, at in places),
            offset=self.offset,
        )


def leaf_of(tune: Tune, *, level: str | None = None) -> Leaf:
    """Make a leaf of a whole tune.

    Raises
    ------
    NotationError
        If its repeat and jump signs cannot be followed.
    """
    return Leaf(tune, playing_order(tune), tune.source, level)


def leaves(lesson: Lesson, level: Level) -> tuple[Leaf, ...]:
    """Give the leaves of a level: the head and, if there is one, the written solo."""
    settings = level.settings
    own = settings.edits or settings.notation
    file = lesson.name_of(own) if own else lesson.tune.source
    head = Leaf(level.head, level.order, file, level.name)
    if level.solo is None:
        return (head,)
    first, count = level.solo
    solo = replace(level.sheet, bars=level.sheet.bars[first : first + count])
    lead_in = solo.bars[0].pickup
    return (
        head,
        Leaf(
            solo,
            tuple(range(count)),
            lesson.name_of(settings.solo),
            level.name,
            first,
            offset=solo.bars[0].number - (0 if lead_in else 1),
        ),
    )
