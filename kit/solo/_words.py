"""How is it said what a phrase does with the tune's idea?

A plan says what to try. Of a line that is written the words say only what is true of its
notes: an idea is "a step higher" if every note of it is.

Source: the terms are those of every textbook of composition (sequence, inversion,
fragment); the words around them are plain ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from kit.form.wording import ordinal
from kit.solo._cells import Cell
from kit.solo._melody import Melody
from kit.solo._plan import Planned
from kit.tune.pitch import Pitch

__all__ = ["planned_words", "short_words", "told_words"]

_PLANNED = {
    "sequence": "the same idea over the new chords",
    "invert": "the idea turned upside down",
    "vary": "the idea with another end",
    "displace": "the idea begun later",
    "fragment": "pieces of the idea",
    "run": "the idea and a run",
    "rest": "rest, and listen to the band",
}
_SHORT = {
    "state": "the idea",
    "invert": "upside down",
    "vary": "another end",
    "displace": "later",
    "fragment": "pieces of it",
    "run": "with a run",
    "answer": "answer",
    "rest": "rest",
}
_OTHER_NOTES = "the rhythm of the idea with other notes"
_SAME = "the same idea"


def planned_words(plan: Planned, melody: Melody) -> str:
    """Say what a planned phrase does; nothing where it has no idea of the tune."""
    if plan.move == "rest":
        return _PLANNED[plan.move]
    if plan.cell is None:
        return ""
    if plan.move == "answer":
        of_idea = any(stroke.of is not None for stroke in plan.strokes)
        return "made of the same idea" if of_idea else ""
    if plan.move == "displace":
        return _later(plan, plan.cell, melody)
    return _PLANNED.get(plan.move) or _idea(plan, plan.cell, melody)


def _idea(plan: Planned, cell: Cell, melody: Melody) -> str:
    where = f"bar {cell.number}" if cell.number else "the pick-up"
    if not cell.opens:
        idea = f"an idea of the tune, from {where}"
    elif plan.label == melody.form.sections[0].label:
        idea = "the tune's first idea"
    else:
        idea = f"the first idea of {plan.label}, from {where}"
    return idea if cell.plain else f"{idea}, made simpler"


def _later(plan: Planned, cell: Cell, melody: Melody) -> str:
    """Say by how much the idea comes later than in the tune, if it is a plain amount."""
    first = next((stroke for stroke in plan.strokes if stroke.of == 0), None)
    pulse = melody.sheet.meter.pulse
    by = (first.onset - cell.place) / pulse if first else Fraction(0)
    amounts = {Fraction(1): "a beat later", Fraction(1, 2): "half a beat later"}
    return f"the idea begun {amounts.get(by, 'at another place of the bar')}"


def told_words(
    plan: Planned, line: Sequence[Pitch], stated: Sequence[Pitch], melody: Melody
) -> str:
    """Say what a phrase does of which the notes are known.

    Parameters
    ----------
    plan : Planned
        What it was to do.
    line : sequence of Pitch
        Its notes of the idea, in the idea's order.
    stated : sequence of Pitch
        The notes of the idea when it was stated last; none if it was not.
    melody : Melody
        Where the idea comes from.
    """
    if plan.cell is None or not line:
        return planned_words(plan, melody)
    shape = list(plan.cell.steps[: len(line) - 1])
    if plan.move == "invert":
        turned = _same_ways(_steps(line), [-step for step in shape])
        return planned_words(plan, melody) if turned else _OTHER_NOTES
    if plan.move == "sequence" or (plan.move == "state" and stated):
        return _moved(line, stated)
    if plan.move == "state" and not _same_ways(_steps(line), shape):
        return f"the rhythm of {planned_words(plan, melody)}"
    if plan.move == "run" and not _runs(plan):
        return "the idea"
    return planned_words(plan, melody)


def _runs(plan: Planned) -> bool:
    """Whether some notes in a row go on by step at one speed."""
    added = [s for s in plan.strokes if s.of is None and s.step in (-1, 1)]
    return any(a.duration == b.duration and a.end == b.onset for a, b in pairwise(added))


def _steps(line: Sequence[Pitch]) -> list[int]:
    return [b.diatonic - a.diatonic for a, b in pairwise(line)]


def _same_ways(one: Sequence[int], other: Sequence[int]) -> bool:
    """Whether two shapes rise, fall and stay at the same places."""
    ways = [[(step > 0) - (step < 0) for step in shape] for shape in (one, other)]
    return ways[0] == ways[1]


def _moved(line: Sequence[Pitch], stated: Sequence[Pitch]) -> str:
    """Say how far an idea has moved, if all of its notes have by the same steps."""
    if len(line) != len(stated):
        return _OTHER_NOTES
    moves = {b.diatonic - a.diatonic for a, b in zip(stated, line, strict=True)}
    if len(moves) > 1:
        same = _same_ways(_steps(line), _steps(stated))
        return f"{_SAME}, fitted to the new chords" if same else _OTHER_NOTES
    (move,) = moves
    return f"{_SAME} {_distance(move)}" if move else f"{_SAME} again"


def _distance(move: int) -> str:
    way = "higher" if move > 0 else "lower"
    size = abs(move)
    if size == 1:
        return f"a step {way}"
    name = "octave" if size == 7 else ordinal(size + 1)
    return f"{'an' if name in ('octave', 'eighth', 'eleventh') else 'a'} {name} {way}"


def short_words(plan: Planned, told: str) -> str:
    """Say in two or three words, for above the staff, what a phrase does."""
    if plan.cell is None and plan.move != "rest":
        return ""
    if told.startswith(_SAME):
        return told.removeprefix(_SAME).strip(", ")
    if told.startswith("the rhythm of"):
        return "its rhythm"
    if told == "the idea":
        return told
    return _SHORT[plan.move]
