"""What does a piece of a build depend on? Named ingredients, each with a hash.

The hashes together are the key under which a job's files lie in the cache; the names say
why something is made again: "the notes", "the words", "the instrument".

An ingredient is what was *computed* from the files, not the files: a comment in an edit
list changes nothing, and a note changed at one level leaves the handouts of the others
alone. Only the notebook depends on the files themselves, because a cell may read any.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from functools import cached_property
from typing import Any

from kit.build._jobs import Job
from kit.build.identity import kit_fingerprint
from kit.cache import Cache, fingerprint
from kit.figures.by_kind import levels_beside
from kit.figures.figure import KINDS
from kit.form.names import form_name
from kit.instruments.part import Part
from kit.lesson.keys import practice_key
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.publish.cells import (
    FigureCall,
    LessonCell,
    cells_for_handout,
    cells_for_page,
    read_cells,
)
from kit.publish.made import kept_json
from kit.publish.page.packs import drawn_for
from kit.publish.page.view import page_levels
from kit.tracks.audio import read_cover, takes_for
from kit.tracks.rendition import soloist_of

__all__ = ["Recipe", "Recipes", "recipe_key"]

Recipe = dict[str, str]
"""Hashes by the names of the ingredients."""

_NOT_ON_PAPER = frozenset(
    {
        "levels", "instruments", "default_instrument", "recording", "catalogue", "audio",
        "soundfont", "spelling", "octave",
    }
)  # fmt: skip
_OF_SOUND = frozenset(
    {"title", "composer", "school", "audio", "tiers", "soundfont", "rights"}
)


class Recipes:
    """The recipes of one lesson's jobs; what several share is hashed once.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    files : mapping of str to str
        Hashes of its files (`kit.build.identity.lesson_hashes`).
    cache : Cache
        Where the run notebook is kept.
    """

    def __init__(self, lesson: Lesson, files: Mapping[str, str], cache: Cache) -> None:
        self.lesson = lesson
        self.files = files
        self.cache = cache
        self._levels: dict[str, Recipe] = {}
        self._cells: dict[str, tuple[LessonCell, ...]] = {}

    def of(self, job: Job) -> Recipe:
        """List the ingredients of a job.

        Raises
        ------
        LessonError
            If the lesson's music cannot be used.
        """
        makers: Mapping[str, Callable[[Job], Mapping[str, str]]] = {
            "notebook": lambda _: self.files,
            "audio": self._sound,
            "melody": self._sound,
            "stems": self._sound,
            "loops": self._sound,
            "timing": self._sound,
            "recording": self._recording,
            "sheets": self._sheets,
            "pack": self._pack,
            "page": self._page,
            "video": self._video,
        }
        return {"the kit": kit_fingerprint()[:_DIGITS], **makers[job.kind](job)}

    def _level(self, name: str) -> Recipe:
        if name not in self._levels:
            level = self.lesson.level(name)
            sheet = level.sheet
            # What the sheet's head says is said elsewhere too: it must not count as notes.
            notes = replace(sheet, title="", composer="", tempo_qpm=None, feel="")
            # How long the silence before the first click is, a setting says: the tempo.
            order = replace(
                level.route, tempo_map=replace(level.route.tempo_map, silence=0.0)
            )
            self._levels[name] = {
                "the notes": _hash(repr(notes)),
                "the form": _hash(repr((level.form, level.order, level.solo))),
                "the route": _hash(repr(order)),
                "the level's settings": _hash(
                    repr((level.settings, sheet.tempo_qpm, sheet.feel, sheet.composer))
                ),
            }
        return self._levels[name]

    def _sound(self, job: Job) -> Recipe:
        names = self.lesson.level_names
        place = (names.index(job.level), len(names))
        settings = self._settings(lambda name: name in _OF_SOUND)
        player = job.instrument or self.lesson.settings.default_instrument
        soloist = soloist_of(self.lesson, job.level, player)
        return {
            **self._level(job.level),
            "the instrument": _hash(repr(soloist), self._reader(job.level, player)),
            "the settings": _hash(settings, place, self._cover),
            "the SoundFont": self._synth,
        }

    @cached_property
    def _synth(self) -> str:
        from kit.sound.synth import open_synth  # noqa: PLC0415 - needs numpy

        return _hash(
            open_synth(takes_for(self.lesson, self.lesson.level_names[0]).font).key
        )

    @cached_property
    def _cover(self) -> str:
        cover = read_cover(self.lesson)
        return _hash(cover) if cover else ""

    def _recording(self, job: Job) -> Recipe:
        return {
            **self._level(job.level),
            "the tune": self._tune,
            "the settings": self._settings(lambda name: name != "levels"),
            "the instruments": _hash(
                [
                    self._reader(job.level, horn.slug)
                    for horn in self.lesson.settings.instruments
                ]
            ),
        }

    def _reader(self, level: str, slug: str) -> str:
        return _as_read(self.lesson.part(level, slug))

    def _below(self, name: str) -> Level | None:
        place = self.lesson.level_names.index(name)
        return self.lesson.level(self.lesson.level_names[place - 1]) if place else None

    def _sheets(self, job: Job) -> Recipe:
        tiers = self.lesson.settings.tiers
        below = self._below(job.level)
        free = tiers.of("handout", job.level) == "free"
        cells = cells_for_handout(
            self.cells(job.notebook),
            level=job.level,
            free=free,
            free_levels=tiers.free_levels,
        )
        return {
            **self._level(job.level),
            "the level below": _hash(self._beside(below.name, job) if below else ""),
            "the instrument": _hash(self._reader(job.level, job.instrument)),
            "the words": _words(cells),
            "the tune": self._tune,
            "the tuning": _hash(self.lesson.settings.audio.tuning),
            "the settings": self._settings(lambda name: name not in _NOT_ON_PAPER),
        }

    @cached_property
    def _tune(self) -> str:
        """Hash what is said of the tune itself: its key, its meter, its form and name."""
        tune, form = self.lesson.tune, self.lesson.form
        name = form_name(self.lesson.played, form)
        return _hash(repr((tune.key, tune.meter, tune.title, form)), name)

    def _pack(self, job: Job) -> Recipe:
        cells = cells_for_page(
            self.cells(job.notebook),
            audience=job.audience,
            free_levels=self.lesson.settings.tiers.free_levels,
        )
        calls = [
            (place, number, call)
            for place, cell in enumerate(cells)
            for number, call in enumerate(cell.figures)
            if drawn_for(call, job.level)
        ]
        figures = [call for *_, call in calls]
        named = {name for call in figures for name in call.levels}
        among = page_levels(self.lesson, job.audience)
        for call in figures:
            if call.show in KINDS:  # who draws the pack refuses others
                named |= set(levels_beside(call.show, call.options, among))
        others = [(name, self._beside(name, job)) for name in among if name in named]
        keys = [self._in_key(call, job) for call in figures if call.options.get("key")]
        return {
            **self._level(job.level),
            "the levels beside it": _hash(others, keys),
            "the instrument": _hash(self._reader(job.level, job.instrument)),
            "the figures": _hash([repr(call) for call in calls]),
            "the tune": _hash(repr((self.lesson.tune, self.lesson.form))),
            "the settings": self._settings(lambda name: name not in _NOT_ON_PAPER),
        }

    def _beside(self, level: str, job: Job) -> tuple[Recipe, str]:
        """Say what another level is beside this one: it may be read in another octave."""
        return self._level(level), self._reader(level, job.instrument)

    def _in_key(self, call: FigureCall, job: Job) -> str:
        """Say in which octave another key is read: all levels have a say in it."""
        level = call.options.get("level") or job.level
        key = practice_key(self.lesson, call.options["key"], level=level)
        return _as_read(self.lesson.part(level, job.instrument, concert_key=key))

    def _page(self, job: Job) -> Recipe:
        levels = page_levels(self.lesson, job.audience)
        return {
            "the levels": _hash([self._level(name) for name in levels]),
            "the words": _words(self.cells(job.notebook)),
            "the notation": _hash(job.packs),
            "the sound": _hash(job.stems),
            "the files offered": _hash(job.links),
            "the tune": self._tune,
            "the settings": self._settings(lambda name: name != "recording"),
        }

    def _video(self, job: Job) -> Recipe:
        return {
            **self._sound(job),
            "the instrument": _hash(self._reader(job.level, job.instrument)),
            "the settings": self._settings(lambda name: name != "levels"),
        }

    def _settings(self, wanted: Callable[[str], bool]) -> str:
        settings = self.lesson.settings
        kept = [
            (field.name, repr(getattr(settings, field.name)))
            for field in fields(settings)
            if wanted(field.name)
        ]
        return _hash(kept, self.lesson.slug)

    def cells(self, notebook: str) -> tuple[LessonCell, ...]:
        """Read the cells of a run notebook, by its hash."""
        if notebook not in self._cells:
            source = self.lesson.name_of("lesson.ipynb")
            self._cells[notebook] = read_cells(
                kept_json(self.cache, notebook),
                levels=self.lesson.level_names,
                source=source,
            )
        return self._cells[notebook]


_DIGITS = 20


def _as_read(part: Part) -> str:
    """Say how an instrument reads a sheet, the sheet itself left out."""
    octave = part.octave_shift, part.octave_asked_for
    return repr((part.instrument, octave, part.tune.key, part.prefer))


def _words(cells: Sequence[LessonCell]) -> str:
    # A set prints in another order in every process; its sorted list does not.
    return _hash(
        [repr((sorted(cell.tags), replace(cell, tags=frozenset()))) for cell in cells]
    )


def _hash(*parts: Any) -> str:
    return fingerprint(*parts)[:_DIGITS]


def recipe_key(job: Job, recipe: Recipe) -> str:
    """Give the name under which what a job makes lies in the cache.

    Whom a pack is for is no part of it: where both audiences see the same, it is drawn
    once.
    """
    audience = "" if job.kind == "pack" else job.audience
    kind = "one file" if job.is_one_file else job.kind
    where = (kind, job.level, job.instrument, audience, job.tempo_percent)
    return fingerprint("job", where, recipe)
