"""The lesson: one folder, everything computed from it on first use.

A `Lesson` reads each file once and keeps what it computed; `Lesson.refreshed` gives a new
one after files have changed. It is the only place that knows which file feeds what.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from pathlib import Path

from kit.errors import KitError, LessonError
from kit.form.find import find_form
from kit.form.ranges import form_from_ranges
from kit.form.sections import Form
from kit.instruments.part import Part
from kit.instruments.table import Instrument
from kit.instruments.transposition import octaves_of_levels, write_part
from kit.lesson.level import Level, make_level
from kit.lesson.settings import LessonSettings, LevelSettings, read_settings
from kit.lesson.toml_table import near
from kit.levels.edits import apply_edits
from kit.levels.file import LevelFile, read_level_file
from kit.reading import read_bytes, text_of, told
from kit.tune.model import Tune
from kit.tune.pitch import Key
from kit.tune.read import read_tune
from kit.tune.unfold import unfolded

__all__ = ["TUNE", "Lesson", "open_lesson"]

MAX_LEVEL_FILE_BYTES = 1_000_000
# An octave in which half of the notes have to be moved back is not the octave.
_MOST_MOVED = 0.5
TUNE = "tune"
"""What an edit list calls the melody it starts from when it edits no other level."""


def open_lesson(folder: str | Path = ".") -> Lesson:
    """Open a lesson folder (or a file in it, such as its notebook).

    Raises
    ------
    LessonError
        If there is no usable lesson.toml.
    """
    path = Path(folder)
    if os.path.isfile(folder):  # noqa: PTH113 - of a name that cannot be it just says no
        path = path.parent
    return Lesson(path)


class Lesson:
    """A lesson folder, read and computed.

    Parameters
    ----------
    folder : Path
        The folder with lesson.toml.

    Raises
    ------
    LessonError
        If lesson.toml is missing or wrong. Errors of notation and levels come up when the
        music concerned is first asked for.
    """

    def __init__(self, folder: Path) -> None:
        self.settings: LessonSettings = read_settings(folder)
        self.folder = folder.resolve()
        self._levels: dict[str, Level] = {}
        self._heads: dict[str, Tune] = {}
        self._octaves: dict[tuple[str, Key | None], dict[str, int]] = {}
        self._parts: dict[tuple[str, str, Key | None], Part] = {}

    def refreshed(self) -> Lesson:
        """Read the folder anew."""
        return Lesson(self.folder)

    def reread(self) -> None:
        """Read the folder anew in place, for everyone who holds this lesson.

        Raises
        ------
        LessonError
            If lesson.toml cannot be used; the lesson then stays as it was.
        """
        fresh = self.refreshed()
        vars(self).clear()
        vars(self).update(vars(fresh))

    @property
    def slug(self) -> str:
        """The folder's name."""
        return self.settings.slug

    @property
    def title(self) -> str:
        """The lesson's title."""
        return self.settings.title

    @cached_property
    def tune(self) -> Tune:
        """The tune at concert pitch, titled as lesson.toml says."""
        tune = read_tune(
            self.file(self.settings.tune), name=f"{self.slug}/{self.settings.tune}"
        )
        return replace(
            tune,
            title=self.settings.title,
            composer=self.settings.composer or tune.composer,
        )

    @cached_property
    def played(self) -> Tune:
        """The tune once through, repeats written out."""
        return unfolded(self.tune)

    @cached_property
    def form(self) -> Form:
        """The tune's sections: from lesson.toml, the notation's marks, or found."""
        if self.settings.sections:
            ranges = [{"label": x, "bars": bars} for x, bars in self.settings.sections]
            return form_from_ranges(self.played, ranges, source=self.settings.source)
        return find_form(self.played)

    @property
    def level_names(self) -> tuple[str, ...]:
        """The levels' names in order."""
        return tuple(level.name for level in self.settings.levels)

    @property
    def levels(self) -> tuple[Level, ...]:
        """All levels in order."""
        return tuple(self.level(name) for name in self.level_names)

    def level(self, name: str) -> Level:
        """Give a level by name.

        Raises
        ------
        LessonError
            If there is no such level, or its files cannot be used.
        """
        if name not in self._levels:
            settings = self._level_settings(name)
            solo = self._notation(settings.solo) if settings.solo else None
            try:
                self._levels[name] = make_level(
                    settings, head=self.head(name), form=self.form, solo=solo
                )
            except KitError as error:
                raise error.within(
                    file=f'{self.settings.source}, level "{name}"'
                ) from error
        return self._levels[name]

    def head(self, name: str, *, through: tuple[str, ...] = ()) -> Tune:
        """Give the melody of a level as written (`tune` for the tune itself)."""
        if name == TUNE:
            return self.tune
        if name not in self._heads:
            self._heads[name] = self._make_head(self._level_settings(name), through)
        return self._heads[name]

    def _make_head(self, settings: LevelSettings, through: tuple[str, ...]) -> Tune:
        head = self.tune
        if settings.notation:
            head = self._notation(settings.notation)
        elif settings.edits:
            head = self._edited(settings, (*through, settings.name))
        return replace(
            head,
            title=self.tune.title,
            composer=self.tune.composer,
            tempo_qpm=settings.tempo * float(head.meter.pulse),
            feel=settings.feel.replace("-", " ").capitalize(),
        )

    def _edited(self, settings: LevelSettings, through: tuple[str, ...]) -> Tune:
        level_file = self.level_file(settings.name)
        source = self.name_of(settings.edits)
        over = level_file.over or TUNE
        if over in through:
            circle = (*through, over)
            raise LessonError(
                f"the levels edit each other in a circle: {' over '.join(circle)}",
                file=source,
                remedy="let one of them start from the tune",
            )
        return apply_edits(
            self.head(over, through=through), level_file.edits, source=source
        )

    def changes_are_proposed(self, level: str) -> bool:
        """Say whether a level plays changes that nobody has stood up for yet.

        A level that is written out in notation has the changes of its own file.
        """
        own = self._level_settings(level).notation
        return self.settings.changes_proposed and not own

    def level_file(self, name: str) -> LevelFile:
        """Read the edit list of a level.

        Raises
        ------
        LessonError
            If the level has none, or it cannot be read.
        """
        settings = self._level_settings(name)
        if not settings.edits:
            raise LessonError(f'level "{name}" has no edit list', file=self.settings.source)
        source = self.name_of(settings.edits)
        path = self.file(settings.edits)
        with told(source):
            text = text_of(read_bytes(path, limit_bytes=MAX_LEVEL_FILE_BYTES))
        return read_level_file(text, source=source)

    def instrument(self, slug: str) -> Instrument:
        """Give one of the lesson's instruments.

        Raises
        ------
        LessonError
            If the lesson has no such instrument, with the nearest.
        """
        known = {instrument.slug: instrument for instrument in self.settings.instruments}
        if slug not in known:
            raise LessonError(
                f'no instrument "{slug}" in this lesson',
                file=self.settings.source,
                remedy=near(slug, known),
            )
        return known[slug]

    def part(self, level: str, instrument: str, *, concert_key: Key | None = None) -> Part:
        """Write a level's sheet for an instrument, in its written key and range.

        Parameters
        ----------
        level, instrument : str
            Whose part.
        concert_key : Key, optional
            Another concert key to practise in; the tune's own without it.

        Raises
        ------
        LessonError
            If the lesson has no such level or instrument, or the tune cannot be played in
            the key because one is major and the other minor.
        """
        key = (level, instrument, concert_key)
        if key not in self._parts:
            self._parts[key] = self._written(
                level, self.instrument(instrument), concert_key
            )
        return self._parts[key]

    def _written(self, level: str, row: Instrument, concert_key: Key | None) -> Part:
        # In another key the tune lies elsewhere: the wish is for its own.
        wish = None if concert_key else self.settings.octave_of(row.slug, level)
        octaves = self._octaves_of(row, concert_key).get(level) if wish is None else wish
        part = write_part(
            self.level(level).sheet,
            row,
            level=level,
            concert_key=concert_key,
            octave_shift=octaves,
            octave_asked_for=wish is not None,
            prefer=dict(self.settings.spelling).get(row.slug),
        )
        notes = sum(note.pitch is not None for bar in part.tune.bars for note in bar.notes)
        if wish is not None and len(part.moved) > _MOST_MOVED * notes:
            raise LessonError(
                f"[octave] puts most of level {level} beyond the range of "
                f"{row.name}, {row.range_written} written",
                file=self.settings.source,
                remedy=f"leave it out, or write {self._octaves_of(row, None)[level]}",
            )
        return part

    def _octaves_of(self, row: Instrument, concert_key: Key | None) -> dict[str, int]:
        """Give the octave in which an instrument reads each level of the lesson."""
        key = (row.slug, concert_key)
        if key not in self._octaves:
            # A level of another mode is not played in that key.
            levels = [
                level
                for level in self._intact_levels()
                if not concert_key or level.sheet.key.is_minor == concert_key.is_minor
            ]
            found = octaves_of_levels(
                [(level.sheet, level.name) for level in levels],
                row,
                concert_key=concert_key,
            )
            self._octaves[key] = {
                level.name: octaves for level, octaves in zip(levels, found, strict=True)
            }
        return self._octaves[key]

    def _intact_levels(self) -> Iterator[Level]:
        """Give the levels that can be computed.

        What is wrong with the others is told where they are asked for.
        """
        for name in self.level_names:
            try:
                yield self.level(name)
            except KitError:
                continue

    def file(self, name: str) -> Path:
        """Give the path of a file that lesson.toml names.

        Raises
        ------
        LessonError
            If it is missing or lies outside the lesson folder.
        """
        path, kind = self._path_of(name)
        if not path.is_relative_to(self.folder):
            raise LessonError(
                f'"{name}" lies outside the lesson folder',
                file=self.settings.source,
                remedy="copy the file into the folder",
            )
        if kind != "file":
            raise LessonError(
                f"this is a {kind}, not a file" if kind else "there is no such file",
                file=self.name_of(name),
                remedy=f"add it or correct {self.settings.source}",
            )
        return path

    def _path_of(self, name: str) -> tuple[Path, str]:
        """Give a path and what lies there, if anything."""
        try:
            path = (self.folder / name).resolve()
            if path.is_file():
                return path, "file"
            if path.is_dir():
                return path, "folder"
            return path, "pipe or a device" if path.exists() else ""
        except (ValueError, OSError, RuntimeError) as error:
            # A sign that no name can have, a name too long, or links that go in a circle.
            raise LessonError(
                f'"{name}" cannot name a file', file=self.settings.source
            ) from error

    def name_of(self, name: str) -> str:
        """Give a file's name as messages call it: lesson folder first."""
        return f"{self.slug}/{name}"

    def _notation(self, name: str) -> Tune:
        return read_tune(self.file(name), name=self.name_of(name))

    def _level_settings(self, name: str) -> LevelSettings:
        for level in self.settings.levels:
            if level.name == name:
                return level
        raise LessonError(
            f'there is no level "{name}"',
            file=self.settings.source,
            remedy=near(name, self.level_names),
        )
