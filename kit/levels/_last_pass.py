"""Is a finished draft in order as a whole, and what has to go if it is not?

Edits are chosen one after another, each in the bars around it; what several of them have
made together is only seen in the finished music. The last pass reads it from beginning to
end, as a teacher would before handing it out, and for each fault takes out a group of edits
(an idea with its copies in like bars) near it, until none is left.

Conventions: the group chosen last is given up first, because the best were chosen first.
"""

from __future__ import annotations

from collections.abc import Collection
from fractions import Fraction

from kit.levels._choice import Choice, Group
from kit.levels._faults import Fault, Reading
from kit.levels._limits import Limits
from kit.levels._music import Music
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits
from kit.levels.idioms import Idiom

__all__ = ["without_faults"]

_NEAR = 1
"""A fault is the work of edits in its bar or in those beside it."""


def without_faults(choice: Choice, limits: Limits, idiom: Idiom) -> tuple[Edit, ...]:
    """Give a draft's edits in the order of a level file, less those that do harm.

    Parameters
    ----------
    choice : Choice
        What has been chosen; it stays as it is.
    limits : Limits
        What the players can do.
    idiom : Idiom
        What a teacher expects.
    """
    start = Reading(Music.of(choice.tune), limits, idiom)
    gone: list[Group] = []
    while True:
        edits = choice.in_order(gone)
        faults = _faults(choice, edits, start, limits, idiom)
        if not faults:
            return edits
        gone.append(_culprit(choice, gone, min(faults)))


def _faults(
    choice: Choice, edits: Collection[Edit], start: Reading, limits: Limits, idiom: Idiom
) -> set[tuple[Fraction, str, int]]:
    """Read the finished music; a fault is told by its moment first."""
    music = Music.of(apply_edits(choice.tune, tuple(edits)))
    now = Reading(music, limits, idiom)
    found: set[Fault] = {*(now.faults - start.faults)}
    found |= {("lilt lost", moment, 0) for moment, _ in start.steps - now.values}
    return {(moment, rule, midi) for rule, moment, midi in found}


def _culprit(
    choice: Choice, gone: Collection[Group], fault: tuple[Fraction, str, int]
) -> Group:
    """Name the group chosen last among those near a fault."""
    starts = Music.of(choice.tune).starts
    index = max(k for k, start in enumerate(starts) if start <= fault[0])
    bars = choice.tune.bars
    near = {bar.number for bar in bars[max(0, index - _NEAR) : index + _NEAR + 1]}
    left = [group for group in choice.groups if group not in gone]
    here = [group for group in left if any(edit.bar in near for edit in group.edits)]
    # A chord holds on: its edit may stand further back.
    return (here or left)[-1]
