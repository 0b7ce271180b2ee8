"""Edits that decorate a note without changing its rhythm: grace, turn, mordent, trill.

A grace note is written small before its note; further ones stand closer to it. Source:
common practice.
"""

from __future__ import annotations

from dataclasses import replace

from kit.levels.articulation import mark_operations
from kit.levels.edit import Operation, Option, Site
from kit.levels.steps import step_from
from kit.tune.model import Grace, Tune

__all__ = ["OPERATIONS", "STEP_OPTIONS"]

STEP_OPTIONS = {
    "from": Option("choice", "below", ("below", "above")),
    "step": Option("choice", "chromatic", ("chromatic", "scale")),
}
_MOST_GRACES = 4


def _grace(site: Site) -> Tune:
    sounds = list(site.sounds)
    sound = sounds[site.place]
    if len(sound.graces) >= _MOST_GRACES:
        raise site.refuse(f"the note has {len(sound.graces)} grace notes already")
    pitch = step_from(
        sound.pitch,
        -1 if site.text("from") == "below" else 1,
        site.bar.key,
        chromatic=site.text("step") == "chromatic",
    )
    # One grace note alone has a slash, several have none (common practice).
    single = not sound.graces
    graces = tuple(replace(grace, slash=False) for grace in sound.graces)
    sounds[site.place] = replace(sound, graces=(*graces, Grace(pitch, slash=single)))
    return site.rewritten(sounds)


OPERATIONS = (
    Operation("grace", "a grace note a step below or above", _grace, STEP_OPTIONS),
    *mark_operations({"ornaments"}),
)
