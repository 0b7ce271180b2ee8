"""What exactly is played when a level is heard: which bars, how fast, in which key?

A *rendition* is a level's performance in the making: its own route at its own tempo, or
the same at another tempo, in another key, over so many choruses of the form, or with the
head once more at the end so that loops can be cut from its middle.

Conventions: `tempo_percent` is of the level's tempo. Choruses are played as on a bandstand:
the head first and last, open solos between.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from kit.band.events import Performance
from kit.band.feel import load_feel
from kit.band.perform import ChordStyle, Harmony, perform, seed_of
from kit.band.soloist import Soloist
from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level, after_silence
from kit.route.plan import Passage, Route, plan_route
from kit.route.tempo import STEADY
from kit.tune.model import Tune, transposed
from kit.tune.pitch import Interval, Key, Pitch

__all__ = [
    "MOST_CHORUSES",
    "Rendition",
    "loop_rendition",
    "rendition",
    "soloist_of",
]

MOST_CHORUSES = 40
"""An hour of most tunes."""


@dataclass(frozen=True, slots=True)
class Rendition:
    """Everything a performance depends on; equal renditions sound alike."""

    sheet: Tune
    # What the soloist reads: the same in the sounding octave of the instrument.
    solo_sheet: Tune
    route: Route
    tempo_qpm: float
    feel: str
    section_feels: tuple[tuple[str, str], ...]
    chords: ChordStyle
    harmony: Harmony
    is_steady: bool
    stops: bool
    soloist: Soloist
    a4_hz: float

    def perform(self) -> Performance:
        """Let the band play it; the last few performances are remembered."""
        return _performance(self)


@lru_cache(maxsize=16)
def _performance(planned: Rendition) -> Performance:
    return perform(
        planned.sheet,
        planned.route,
        feel=planned.feel,
        tempo_qpm=planned.tempo_qpm,
        soloist=planned.soloist,
        solo_sheet=planned.solo_sheet,
        seed=seed_of(planned.sheet),
        harmony=planned.harmony,
        section_feels=dict(planned.section_feels),
        humanise=not planned.is_steady,
        ending="stop" if planned.stops else "ring",
        chord_style=planned.chords,
        a4_hz=planned.a4_hz,
    )


def rendition(
    lesson: Lesson,
    level: str,
    *,
    tempo_percent: float = 100,
    concert_key: Key | None = None,
    choruses: int | None = None,
    instrument: str = "",
) -> Rendition:
    """Plan how a level is played.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        One of its levels.
    tempo_percent : float > 0
        Of the level's tempo.
    concert_key : Key, optional
        Another concert key, of the tune's mode.
    choruses : int, 1 to 40, optional
        So often the form, instead of the level's own route.
    instrument : str
        Who plays the melody, in the octave in which its part sounds; the lesson's default
        instrument unless said.

    Raises
    ------
    LessonError
        If the level cannot be computed, the key is of the other mode or the lesson has no
        such instrument.
    ValueError
        If tempo or choruses are out of range.
    """
    music = lesson.level(level)
    route = music.route
    if choruses is not None:
        if not 1 <= choruses <= MOST_CHORUSES:
            raise ValueError(f"choruses must be 1 to {MOST_CHORUSES}, not {choruses}")
        route = _choruses(music, choruses)
    return _rendition(
        lesson, music, route, tempo_percent, concert_key, instrument=instrument
    )


def loop_rendition(
    lesson: Lesson, level: str, *, tempo_percent: float = 100, instrument: str = ""
) -> Rendition:
    """Plan a steady performance whose bars can be cut out: none of them is the last one.

    The head is played once more behind the route, so that the band ends there and not in a
    loop.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        Whose sheet and route.
    tempo_percent : float > 0
        Of the level's own tempo.
    instrument : str
        As for `rendition`.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    ValueError
        If the tempo is not above zero.
    """
    music = lesson.level(level)
    settings = music.settings
    route = plan_route(
        (*settings.route, Passage("head")),
        form=music.form,
        head=music.sheet,
        order=music.order,
        solo=music.solo,
        count_in_bars=1,
    )
    # Who practises in a loop plays in time: fermatas are passed over.
    route = replace(route, tempo_map=STEADY, holds=())
    return _rendition(lesson, music, route, tempo_percent, None, instrument=instrument)


def soloist_of(lesson: Lesson, level: str, instrument: str = "") -> Soloist:
    """Give who plays a level's melody: the lesson's default instrument unless said.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        Decides breath and vibrato.
    instrument : str
        One of the lesson's.

    Raises
    ------
    LessonError
        If there is no such level or instrument.
    """
    chosen = lesson.instrument(instrument or lesson.settings.default_instrument)
    feel = load_feel(lesson.level(level).settings.feel)
    return Soloist(
        chosen.gm_program,
        chosen.breath_length_s(level),
        chosen.vibrato_cents(level, swings=feel.swing != "straight"),
    )


def _rendition(
    lesson: Lesson,
    music: Level,
    route: Route,
    tempo_percent: float,
    key: Key | None,
    *,
    instrument: str,
) -> Rendition:
    if not tempo_percent > 0:
        raise ValueError(f"a tempo must be above zero, not {tempo_percent} per cent")
    settings = music.settings
    chosen = instrument or lesson.settings.default_instrument
    return Rendition(
        sheet=_in_key(music.sheet, key),
        solo_sheet=lesson.part(music.name, chosen, concert_key=key).sounding,
        route=route,
        tempo_qpm=music.tempo_qpm * tempo_percent / 100,
        feel=settings.feel,
        section_feels=settings.band.section_feels,
        chords=settings.band.chords,
        harmony=settings.band.harmony or "written",
        is_steady=settings.band.steady,
        stops=settings.band.ending == "stop",
        soloist=soloist_of(lesson, music.name, chosen),
        a4_hz=lesson.settings.audio.a4_hz,
    )


def _choruses(music: Level, count: int) -> Route:
    solos = [Passage("solo")] * max(0, count - 2)
    passages = [Passage("head"), *solos, Passage("head")]
    settings = music.settings
    route = plan_route(
        passages[:count],
        form=music.form,
        head=music.sheet,
        order=music.order,
        count_in_bars=settings.count_in_bars,
        intro=settings.band.intro,
        slows_down=settings.band.ending == "ritardando",
    )
    return after_silence(route, music.tempo_qpm)


def _in_key(sheet: Tune, key: Key | None) -> Tune:
    """Move a sheet to another key by the shorter way."""
    if key is None or key == sheet.key:
        return sheet
    if key.is_minor != sheet.key.is_minor:
        raise LessonError(
            f"the tune is in {sheet.key} and cannot be played in {key}",
            file=sheet.source or None,
            remedy=f"name a {sheet.key.mode} key",
        )
    tonic = sheet.key.tonic
    low = Pitch(tonic.step, tonic.alter, 4)
    ways = [Pitch(key.tonic.step, key.tonic.alter, octave) - low for octave in (3, 4, 5)]
    shortest: Interval = min(ways, key=lambda way: (abs(way.semitones), way.semitones))
    return replace(transposed(sheet, shortest), source=sheet.source)
