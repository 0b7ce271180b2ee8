"""Edits that put a decoration on a note: accent, staccato, ghost, fall, turn and more.

Which there are, and what they do, stands in `kit.tune.marks`: a decoration that gets a row
there gets its edit by it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from kit.levels.edit import Operation, Option, Site
from kit.tune.marks import Mark, MarkGroup, edited_marks
from kit.tune.model import Tune

__all__ = ["OPERATIONS", "mark_operations"]


def mark_operations(groups: Collection[MarkGroup]) -> Iterator[Operation]:
    """Yield the edits that put a decoration of some groups.

    Where one edit puts several signs (a turn from above or from below), its option ``to``
    says which.
    """
    for edit, signs in edited_marks().items():
        if signs[0].group in groups:
            yield _operation(edit, signs)


def _operation(edit: str, signs: tuple[Mark, ...]) -> Operation:
    of = {sign.to: sign.name for sign in signs}

    def apply(site: Site) -> Tune:
        return _with_mark(site, of[site.text("to") if len(of) > 1 else signs[0].to])

    options = {"to": Option("choice", signs[0].to, tuple(of))} if len(of) > 1 else {}
    return Operation(edit, signs[0].effect, apply, options)


def _with_mark(site: Site, mark: str) -> Tune:
    sounds = list(site.sounds)
    sound = sounds[site.place]
    if mark in sound.marks:
        raise site.refuse(f'the note has "{site.edit.do}" already', "take the edit out")
    sounds[site.place] = replace(sound, marks=(*sound.marks, mark))
    return site.rewritten(sounds)


def _plain(site: Site) -> Tune:
    sounds = list(site.sounds)
    sound = sounds[site.place]
    if not sound.marks and not sound.graces:
        raise site.refuse("the note has no marks or grace notes to take off")
    sounds[site.place] = replace(sound, marks=(), graces=())
    return site.rewritten(sounds)


OPERATIONS = (
    *mark_operations({"articulations", "apart", "technical"}),
    Operation("plain", "marks and grace notes are taken off", _plain),
)
