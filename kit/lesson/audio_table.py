"""What does lesson.toml say about the audio?

The table ``[audio]``, and the keys of a level that say how the band plays it, read into
frozen records.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import cast

from kit.band.feel import feel_names
from kit.band.perform import (
    A4_RANGE_HZ,
    CHORD_STYLES,
    HARMONIES,
    ChordStyle,
    Harmony,
)
from kit.lesson.toml_table import Table, near
from kit.route.plan import INTROS
from kit.sound.mix_names import mix_names

__all__ = [
    "ENDINGS",
    "LEVEL_MIXES",
    "PLAIN_AUDIO",
    "PLAIN_BAND",
    "AudioSettings",
    "BandSettings",
    "read_audio",
    "read_band",
    "with_harmony",
]

LEVEL_MIXES = ("demo", "backing", "melody")
"""What is made of a level unless its lesson says otherwise, the most wanted first."""
SLOWER_MIXES = ("demo", "backing")
ENDINGS = ("ring", "stop", "ritardando")
LOSSLESS = ("flac",)
TEMPO_PERCENTS = (40, 130)


@dataclass(frozen=True, slots=True)
class AudioSettings:
    """Which audio files a build makes.

    `tempos` are per cent of the level's tempo, 100 among them; other tempos than 100 are
    made of `tempo_mixes` only. `melody_for` are the slugs of the instruments that
    have a melody of their own; None is all of the lesson's.
    """

    mixes: tuple[str, ...] = LEVEL_MIXES
    tempos: tuple[int, ...] = (100,)
    tempo_mixes: tuple[str, ...] = SLOWER_MIXES
    melody_for: tuple[str, ...] | None = None
    a4_hz: float = 440.0
    loops: bool = False
    lossless: str = ""
    cover: str = ""

    @property
    def tuning(self) -> str:
        """Say what A4 is where it is not the usual 440 Hz (ISO 16); else nothing."""
        return "" if self.a4_hz == 440 else f"A = {self.a4_hz:g} Hz"

    def mixes_at(self, tempo_percent: float) -> tuple[str, ...]:
        """Give the mixes made at a tempo."""
        if tempo_percent == 100:
            return self.mixes
        return tuple(mix for mix in self.mixes if mix in self.tempo_mixes)


@dataclass(frozen=True, slots=True)
class BandSettings:
    """How the band plays a level.

    `steady` plays every note exactly on the grid, for absolute beginners. `harmony` is what
    the band makes of the changes: plain chords over roots, as written, or with substitutes.
    """

    section_feels: tuple[tuple[str, str], ...] = ()
    chords: ChordStyle = "comping"
    intro: str = ""
    ending: str = "ring"
    steady: bool = False
    harmony: Harmony | None = None


PLAIN_AUDIO = AudioSettings()
PLAIN_BAND = BandSettings()


def read_audio(table: Table, instruments: tuple[str, ...]) -> AudioSettings:
    """Read ``[audio]``.

    Parameters
    ----------
    table : Table
        The table.
    instruments : tuple of str
        Slugs of the lesson's instruments.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    mixes = _mixes(table, "mixes", LEVEL_MIXES)
    slower = tuple(mix for mix in SLOWER_MIXES if mix in mixes)
    settings = AudioSettings(
        mixes=mixes,
        tempos=_tempos(table),
        tempo_mixes=_mixes(table, "tempo_mixes", slower, choices=mixes),
        melody_for=_melody_for(table, instruments) if table.has("melody_for") else None,
        a4_hz=table.get("a4", 440.0),
        loops=table.get("loops", False),
        lossless=table.choice("lossless", LOSSLESS, "") if table.has("lossless") else "",
        cover=table.file_name("cover"),
    )
    low, high = A4_RANGE_HZ
    if not low <= settings.a4_hz <= high:
        raise table.error(
            f"a4 = {settings.a4_hz:g} is out of reach", f"choose {low:g} to {high:g} (Hz)"
        )
    table.finish()
    return settings


def _mixes(
    table: Table, key: str, default: tuple[str, ...], choices: Iterable[str] | None = None
) -> tuple[str, ...]:
    known = tuple(choices if choices is not None else mix_names())
    wanted = tuple(dict.fromkeys(table.texts(key, default)))
    for mix in wanted:
        if mix not in known:
            raise table.error(f'{key}: no mix "{mix}" here', near(mix, known))
    if key == "mixes" and not wanted:
        raise table.error("the list of mixes is empty", "name at least one")
    return wanted


def _melody_for(table: Table, instruments: tuple[str, ...]) -> tuple[str, ...]:
    chosen = tuple(dict.fromkeys(table.texts("melody_for")))
    for slug in chosen:
        if slug not in instruments:
            raise table.error(
                f'melody_for: the lesson has no instrument "{slug}"',
                near(slug, instruments),
            )
    return chosen


def _tempos(table: Table) -> tuple[int, ...]:
    low, high = TEMPO_PERCENTS
    tempos = table.numbers("tempos", (100,))
    for percent in tempos:
        if not low <= percent <= high:
            raise table.error(
                f"a tempo of {percent} per cent is out of reach",
                f"choose {low} to {high} per cent of the level's tempo",
            )
    return tuple(sorted({100, *tempos}))


def read_band(table: Table) -> BandSettings:
    """Read how the band plays from a level's table; the rest of it is left alone.

    Raises
    ------
    LessonError
        If something in it cannot be used.
    """
    chosen = table.table("section_feels")
    feels = {label: chosen.choice(label, feel_names(), "") for label in chosen.all_values()}
    return BandSettings(
        section_feels=tuple(feels.items()),
        chords=cast(ChordStyle, table.choice("chords", CHORD_STYLES, "comping")),
        intro=table.choice("intro", INTROS, "") if table.has("intro") else "",
        ending=table.choice("ending", ENDINGS, "ring"),
        steady=table.get("steady", False),
        harmony=cast(Harmony, table.choice("harmony", HARMONIES, ""))
        if table.has("harmony")
        else None,
    )


def with_harmony(band: BandSettings, place: int, count: int) -> BandSettings:
    """Choose what the band makes of the changes where the lesson does not.

    Levels stand the easiest first: the first of several hears plain chords, a third and
    those after it substitutes, any other the changes as written.

    Parameters
    ----------
    band : BandSettings
        As read.
    place, count : int
        Place of the level, from 0, and how many there are.

    Examples
    --------
    >>> [with_harmony(PLAIN_BAND, place, 3).harmony for place in range(3)]
    ['plain', 'written', 'substituted']
    >>> with_harmony(PLAIN_BAND, 0, 1).harmony
    'written'
    """
    if band.harmony is not None:
        return band
    if count > 1 and place == 0:
        return replace(band, harmony="plain")
    return replace(band, harmony="substituted" if place >= 2 else "written")
