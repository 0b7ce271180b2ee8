"""Edits that put a mark on a note: accent, staccato, tenuto, ghost, fall, scoop and more.

Marks carry their MusicXML names in the model. Source: MusicXML 4.0, ``articulations``; the
words are common practice.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from kit.levels.edit import Operation, Site
from kit.tune.model import Tune

__all__ = ["MARK_WORDS", "OPERATIONS", "with_mark"]

_MARKS = {
    "accent": ("accent", "an accent"),
    "strong accent": ("strong-accent", "a strong accent"),
    "staccato": ("staccato", "short"),
    "tenuto": ("tenuto", "held for its full length"),
    "ghost": ("ghost", "hardly sounded"),
    "fall": ("falloff", "falls off at its end"),
    "scoop": ("scoop", "scooped up to from below"),
    "doit": ("doit", "slides up at its end"),
    "plop": ("plop", "slid down into from above"),
    "fermata": ("fermata", "held as long as you like"),
}

MARK_WORDS: dict[str, str] = {mark: word for word, (mark, _) in _MARKS.items()} | {
    "turn": "turn",
    "mordent": "mordent below",
    "inverted-mordent": "mordent above",
    "trill-mark": "trill",
}
"""What each mark of the model is called in a level file and in a comparison."""


def _marking(mark: str) -> Callable[[Site], Tune]:
    def apply(site: Site) -> Tune:
        return with_mark(site, mark)

    return apply


def with_mark(site: Site, mark: str) -> Tune:
    """Put a mark on the note at a site.

    Raises
    ------
    LevelError
        If no note starts there or it has the mark already.
    """
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
    *(Operation(word, words, _marking(mark)) for word, (mark, words) in _MARKS.items()),
    Operation("plain", "marks and grace notes are taken off", _plain),
)
