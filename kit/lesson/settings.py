"""What does lesson.toml say?

The file is read into frozen records here and nowhere else; ``docs/teacher/lesson-toml.md``
is its reference. Nothing is computed from the music in this module.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal, cast

from kit.band.feel import feel_names
from kit.errors import LessonError
from kit.instruments.table import Instrument, instrument
from kit.lesson.audio_table import (
    PLAIN_AUDIO,
    PLAIN_BAND,
    AudioSettings,
    BandSettings,
    read_audio,
    read_band,
    with_harmony,
)
from kit.lesson.handout_table import PLAIN_HANDOUT, HandoutSettings, read_handout
from kit.lesson.publish_tables import (
    CatalogueSettings,
    RecordingSettings,
    read_catalogue,
    read_recording,
    read_rights,
)
from kit.lesson.route_table import read_passage
from kit.lesson.toml_table import Table, near, read_toml
from kit.reading import is_path_text, told
from kit.rights.ledger import Rights
from kit.route.plan import Passage
from kit.terminal import plain

__all__ = [
    "DEFAULT_INSTRUMENTS",
    "TIER_KINDS",
    "LessonSettings",
    "LevelSettings",
    "Tiers",
    "read_settings",
]

Preference = Literal["sharps", "flats"]
TUNE_NAMES = ("tune.musicxml", "tune.xml", "tune.mxl", "tune.abc", "tune.mid", "tune.midi")
TIER_KINDS = (
    "handout",
    "part",
    "audio",
    "midi",
    "loop",
    "timing",
    "chapters",
    "captions",
    "video",
)
CHANGES = ("given", "proposed")
"""Whether the tune's chords are the source's or the teacher's, or a guess by rule."""

TEMPO_RANGE = (20.0, 400.0)
"""Beats a minute; outside it a number is a slip of the pen."""

MOST_OCTAVES = 3
"""From the usual octave; no instrument has more above or below a tune."""

MAX_NAME_CHARS = 60
"""Level and instrument stand in one file name, and systems take 255 bytes of one."""

DEFAULT_INSTRUMENTS = (
    "alto-sax",
    "tenor-sax",
    "soprano-sax",
    "baritone-sax",
    "clarinet",
    "trumpet",
    "trombone",
    "flute",
    "concert",
)


@dataclass(frozen=True, slots=True)
class Tiers:
    """What is given away: these kinds of files, of these levels."""

    free_levels: tuple[str, ...]
    free_kinds: tuple[str, ...] = ("handout",)

    def of(self, kind: str, level: str | None) -> str:
        """Give the tier of a file: ``free`` or ``members``."""
        free = kind in self.free_kinds and level in self.free_levels
        return "free" if free else "members"


@dataclass(frozen=True, slots=True)
class LevelSettings:
    """One level: where its notes come from, how fast it goes, what is played.

    `tempo` is in felt beats a minute (quarters in 4/4, dotted quarters in 6/8).
    """

    name: str
    title: str
    tempo: float
    feel: str
    edits: str = ""
    notation: str = ""
    solo: str = ""
    summary: str = ""
    count_in_bars: int = 2
    route: tuple[Passage, ...] = (Passage("head"),)
    band: BandSettings = PLAIN_BAND


@dataclass(frozen=True, slots=True)
class LessonSettings:
    """All of lesson.toml."""

    slug: str
    title: str
    composer: str
    school: str
    language: str
    address: str
    summary: str
    tune: str
    instruments: tuple[Instrument, ...]
    default_instrument: str
    sections: tuple[tuple[str, str], ...]
    rights: Rights
    recording: RecordingSettings
    catalogue: CatalogueSettings
    tiers: Tiers
    levels: tuple[LevelSettings, ...]
    soundfont: str
    audio: AudioSettings = PLAIN_AUDIO
    handout: HandoutSettings = PLAIN_HANDOUT
    spelling: tuple[tuple[str, Preference], ...] = ()
    octave: tuple[tuple[str, str, int], ...] = ()
    changes_proposed: bool = False

    def octave_of(self, instrument: str, level: str) -> int | None:
        """Give the octave asked for, from the usual one; None if none is.

        Parameters
        ----------
        instrument, level : str
            Whose part.
        """
        wishes = {(slug, name): octaves for slug, name, octaves in self.octave}
        return wishes.get((instrument, level))

    @property
    def source(self) -> str:
        """How messages call the file."""
        return f"{self.slug}/lesson.toml"


def read_settings(folder: Path) -> LessonSettings:
    """Read a lesson folder's lesson.toml.

    Raises
    ------
    LessonError
        If the file is missing or says something that cannot be used.
    """
    _require_usable(folder)
    slug = folder.resolve().name
    source = f"{slug}/lesson.toml"
    top = Table(read_toml(folder / "lesson.toml", source=source), source=source)
    levels = _unique_levels(top)
    instruments = tuple(_instruments(top))
    slugs = tuple(instrument.slug for instrument in instruments)
    settings = LessonSettings(
        slug=slug,
        title=" ".join(top.need("title", str).split()),
        composer=top.line("composer"),
        school=top.line("school"),
        language=top.get("language", "en"),
        address=top.get("address", ""),
        summary=top.get("summary", ""),
        tune=_tune_file(top, folder),
        instruments=instruments,
        default_instrument=top.choice("default_instrument", slugs, slugs[0]),
        sections=tuple(_sections(top)),
        rights=read_rights(top.table("rights")),
        recording=read_recording(
            top.table("recording"), tuple(level.name for level in levels), slugs
        ),
        catalogue=read_catalogue(top.table("catalogue")),
        tiers=_tiers(top.table("tiers"), tuple(level.name for level in levels)),
        levels=levels,
        soundfont=top.file_name("soundfont"),
        audio=read_audio(top.table("audio"), slugs),
        handout=read_handout(top.table("handout")),
        spelling=_spelling(top.table("spelling"), slugs),
        octave=tuple(
            _octaves(top.table("octave"), slugs, tuple(level.name for level in levels))
        ),
        changes_proposed=top.choice("changes", CHANGES, CHANGES[0]) == "proposed",
    )
    top.finish()
    return settings


def _require_usable(folder: Path) -> None:
    if not is_path_text(str(folder)):
        raise LessonError("no folder can have such a name", file=str(folder))
    with told(str(folder)):
        if not folder.is_dir():
            raise LessonError("there is no such lesson folder", file=str(folder))
        name = folder.resolve().name
    # It becomes part of addresses, of a manifest and of names in zips, which are all text.
    if plain(name) != name:
        raise LessonError(
            "the folder's name has bytes or signs that are no text",
            file=f"{name}/lesson.toml",
            remedy="rename the folder",
        )


def _tune_file(top: Table, folder: Path) -> str:
    found = [name for name in TUNE_NAMES if (folder / name).is_file()]
    default = found[0] if found else ""
    name = top.file_name("tune", default)
    if not name:
        raise top.error(
            "the lesson has no tune", f"put the notation into {folder.name}/{TUNE_NAMES[0]}"
        )
    return name


def _instruments(top: Table) -> Iterator[Instrument]:
    rows = {}
    for row in top.tables("instrument"):
        values = row.all_values()
        rows[_plain_name(row, "slug", "an instrument")] = {
            k: v for k, v in values.items() if k != "slug"
        }
    wanted = top.texts("instruments", DEFAULT_INSTRUMENTS)
    if not wanted:
        raise top.error("the list of instruments is empty", "name at least one")
    for slug in dict.fromkeys(wanted):
        try:
            yield instrument(slug, extra=rows)
        except LessonError as error:
            raise error.within(file=top.source) from error


def _spelling(table: Table, slugs: tuple[str, ...]) -> tuple[tuple[str, Preference], ...]:
    """Read which instruments read sharps or flats where both would do."""
    wishes = tuple(
        (
            slug,
            cast(Preference, table.choice(slug, ("sharps", "flats"), "")),
        )
        for slug in slugs
        if table.has(slug)
    )
    table.finish()
    return wishes


def _octaves(
    table: Table, slugs: tuple[str, ...], levels: tuple[str, ...]
) -> Iterator[tuple[str, str, int]]:
    """Read in which octave an instrument reads its parts, of all levels or of some."""
    for slug, wish in table.all_values().items():
        if slug not in slugs:
            raise table.error(
                f'there is no instrument "{slug}" in this lesson', near(slug, slugs)
            )
        wishes = wish if isinstance(wish, dict) else dict.fromkeys(levels, wish)
        for level, octaves in wishes.items():
            if level not in levels:
                raise table.error(
                    f'{slug} names a level "{level}" that is not there', near(level, levels)
                )
            if type(octaves) is not int or abs(octaves) > MOST_OCTAVES:
                raise table.error(
                    f"{slug} = {octaves!r} is no octave",
                    f"write a whole number from -{MOST_OCTAVES} to {MOST_OCTAVES}, 0 for "
                    "the usual octave",
                )
            yield slug, level, octaves


def _sections(top: Table) -> Iterator[tuple[str, str]]:
    for row in top.tables("sections"):
        yield row.need("label", str), row.need("bars", str)
        row.finish()


def _tiers(table: Table, levels: tuple[str, ...]) -> Tiers:
    free_levels = table.texts("free_levels", levels[:1])
    for name in free_levels:
        if name not in levels:
            raise table.error(
                f'there is no level "{name}"', f"choose from {', '.join(levels)}"
            )
    kinds = table.texts("free_kinds", ("handout",))
    for kind in kinds:
        if kind not in TIER_KINDS:
            raise table.error(f'no kind "{kind}"', f"choose from {', '.join(TIER_KINDS)}")
    table.finish()
    return Tiers(free_levels, kinds)


def _unique_levels(top: Table) -> tuple[LevelSettings, ...]:
    levels = tuple(_level(table) for table in top.tables("levels"))
    if not levels:
        raise top.error("the lesson has no levels", "add a [[levels]] table")
    seen: set[str] = set()
    for level in levels:
        if level.name in seen:
            raise top.error(
                f'two levels are called "{level.name}"', "give each its own name"
            )
        seen.add(level.name)
    return tuple(
        replace(level, band=with_harmony(level.band, place, len(levels)))
        for place, level in enumerate(levels)
    )


def _level(table: Table) -> LevelSettings:
    name = _plain_name(table, "name", "a level")
    tempo = table.need("tempo", float)
    if not TEMPO_RANGE[0] <= tempo <= TEMPO_RANGE[1]:
        raise table.error(f"a tempo of {tempo:g} beats a minute is out of reach")
    level = LevelSettings(
        name=name,
        title=table.line("title", name.capitalize()),
        tempo=tempo,
        feel=table.choice("feel", feel_names(), "medium-swing"),
        edits=table.file_name("edits"),
        notation=table.file_name("notation"),
        solo=table.file_name("solo"),
        summary=table.get("summary", ""),
        count_in_bars=table.get("count_in_bars", 2),
        route=tuple(read_passage(row) for row in table.tables("route"))
        or (Passage("head"),),
        band=read_band(table),
    )
    if level.edits and level.notation:
        raise table.error("a level has either edits or notation, not both")
    if not 0 <= level.count_in_bars <= 8:
        raise table.error("a count-in has 0 to 8 bars")
    table.finish()
    return level


def _plain_name(table: Table, key: str, what: str) -> str:
    """Read a name that becomes part of file names."""
    name = table.need(key, str)
    plain = name.isascii() and name == name.lower() and name.replace("-", "").isalnum()
    if not plain or len(name) > MAX_NAME_CHARS:
        raise table.error(
            f'"{name}" cannot name {what}',
            f"use at most {MAX_NAME_CHARS} small letters, digits and hyphens; a title may "
            "be anything",
        )
    return name
