"""Which bars are worth a loop, and how do a few bars sound by themselves?

A loop is a bar of sticks and then the bars, ending exactly where the sticks come again. A
level has one for each section (a section that comes back note for note counts once) and
for the bars that are hardest by their notes alone: everybody has the same files, though a
practice plan may name other bars because of the instrument.

Bars are named by their printed numbers, first and last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from kit.band.events import Performance
from kit.band.loop import loop_of
from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.levels.difficulty import difficulty_by_bar
from kit.route.plan import PerformedBar
from kit.solo.practice import hard_loops
from kit.tracks.audio import FILE_KBPS, PAGE_KBPS, AudioFile, takes_for
from kit.tracks.rendition import Rendition, loop_rendition
from kit.tune.model import Tune

__all__ = ["Loop", "level_loops", "loop_audio", "loop_performance", "stretch_audio"]


@dataclass(frozen=True, slots=True)
class Loop:
    """Bars worth repeating, by printed numbers; `section` is empty for hard bars."""

    first: int
    last: int
    section: str = ""

    @property
    def name(self) -> str:
        """As in file names: ``9-16``."""
        return f"{self.first}-{self.last}"


def level_loops(lesson: Lesson, level: str) -> tuple[Loop, ...]:
    """List a level's loops: sections first, then the hardest bars.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    """
    music = lesson.level(level)
    loops = list(_sections(music))
    taken = {(loop.first, loop.last) for loop in loops}
    hardest = difficulty_by_bar(music.sheet, music.tempo_qpm)
    for first, last in hard_loops(hardest):
        if (first, last) not in taken:
            loops.append(Loop(first, last))
    return tuple(loops)


def _sections(music: Level) -> Iterator[Loop]:
    seen = set()
    for section in music.form.sections:
        places = music.order[section.first : section.last + 1]
        bars = [music.sheet.bars[place] for place in places]
        content = tuple((bar.notes, bar.chords) for bar in bars)
        numbers = [bar.number for bar in bars]
        # Bars of a repeat are not in a row on the page; their numbers could not name them.
        if content not in seen and numbers == list(range(numbers[0], numbers[-1] + 1)):
            seen.add(content)
            yield Loop(numbers[0], numbers[-1], section.label)


def loop_audio(
    lesson: Lesson,
    level: str,
    loop: Loop,
    *,
    mix: str = "demo",
    tempo_percent: float = 100,
    bit_rate_kbps: int = FILE_KBPS,
) -> AudioFile:
    """Give a loop as MP3: a bar of sticks, then the bars, without a seam.

    Raises
    ------
    LessonError
        If the level cannot be computed, or the bars are not played at it.
    SetupError
        If SoundFont or synthesiser are missing.
    ValueError
        If mix or tempo are out of range.
    """
    planned, bars = _planned(lesson, level, loop, tempo_percent)
    takes = takes_for(
        lesson, level, tempo_percent=tempo_percent, bars=(loop.first, loop.last)
    )

    def play() -> Performance:
        return loop_of(planned.perform(), bars)

    place = (mix, bit_rate_kbps)
    source = (planned, loop.first, loop.last)
    return takes.files(source, play, [place], is_loop=True)[place]


def loop_performance(lesson: Lesson, level: str, loop: Loop) -> Performance:
    """Give what is played in a loop, sticks included; raises what `loop_audio` raises.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        Whose sheet.
    loop : Loop
        Its bars, by their printed numbers.

    Returns
    -------
    Performance
        At the level's own tempo, from the first stick on.
    """
    planned, bars = _planned(lesson, level, loop, 100)
    return loop_of(planned.perform(), bars)


def _planned(
    lesson: Lesson, level: str, loop: Loop, tempo_percent: float
) -> tuple[Rendition, list[PerformedBar]]:
    planned = loop_rendition(lesson, level, tempo_percent=tempo_percent)
    bars = _played(planned, loop, lesson.settings.source)
    return _around(planned, bars), bars


def stretch_audio(
    lesson: Lesson,
    level: str,
    *,
    section: str = "",
    bars: tuple[int, int] | None = None,
    mix: str = "demo",
    tempo_percent: float = 100,
) -> AudioFile:
    """Give a section or some bars at once, for listening in the notebook.

    Parameters
    ----------
    lesson : Lesson
        The lesson.
    level : str
        One of its levels.
    section : str
        A label of the form; the first section of that name is taken.
    bars : (int, int), optional
        First and last printed number, instead of a section.
    mix : str
        One of `kit.sound.mix_names`.
    tempo_percent : float > 0
        Of the level's tempo.

    Raises
    ------
    LessonError
        If the level has no such section or bars.
    SetupError
        If SoundFont or synthesiser are missing.
    ValueError
        If neither section nor bars are named, or mix or tempo are out of range.
    """
    if bars is None:
        if not section:
            raise ValueError("name a section or bars")
        bars = _bars_of(lesson.level(level), section)
    return loop_audio(
        lesson,
        level,
        Loop(*bars),
        mix=mix,
        tempo_percent=tempo_percent,
        bit_rate_kbps=PAGE_KBPS,
    )


def _bars_of(music: Level, section: str) -> tuple[int, int]:
    for one in music.form.sections:
        if one.label == section:
            numbers = [
                music.sheet.bars[music.order[place]].number
                for place in range(one.first, one.last + 1)
            ]
            return numbers[0], numbers[-1]
    raise LessonError(
        f"the form {music.form.pattern} has no section {section}",
        remedy="name a section of the form",
    )


def _played(planned: Rendition, loop: Loop, source: str) -> list[PerformedBar]:
    """Find the bars where they are first played in a row, the pick-up before them too."""
    route, sheet = planned.route.bars, planned.sheet
    for start, bar in enumerate(route):
        if bar.number != loop.first or bar.is_pickup:
            continue
        run = _run(route, start, loop.last)
        if run:
            before = route[start - 1] if start else None
            leads = before is not None and before.is_pickup and _sounds(sheet, before)
            return [before, *run] if before is not None and leads else run
    raise LessonError(
        f"bars {loop.first} to {loop.last} are not played in a row at this level",
        file=source,
        remedy="choose bars by their printed numbers",
    )


def _run(
    route: tuple[PerformedBar, ...], start: int, last: int
) -> list[PerformedBar] | None:
    """Give the bars from a place up to a printed number, or None if the route goes on."""
    run: list[PerformedBar] = []
    for bar in route[start:]:
        if run and not bar.is_pickup and bar.number <= run[-1].number:
            return None
        run.append(bar)
        if bar.number == last:
            return run
    return None


def _around(planned: Rendition, bars: list[PerformedBar]) -> Rendition:
    """Play the bars with one more on either side, and leave the rest of the route out.

    What is held or anticipated comes from the bar before; the bar behind takes the ending.
    """
    route = planned.route.bars
    first, last = route.index(bars[0]), route.index(bars[-1])
    ahead = [place for place in range(last + 1, len(route)) if not route[place].is_pickup]
    assert ahead, "a loop's route goes on after its last bar"
    near = route[max(0, first - 1) : ahead[0] + 1]
    return replace(planned, route=replace(planned.route, bars=near))


def _sounds(sheet: Tune, bar: PerformedBar) -> bool:
    return any(not note.is_rest for note in sheet.bars[bar.sheet_index].notes)
