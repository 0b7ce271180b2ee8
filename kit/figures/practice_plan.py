"""In which steps is a level practised?"""

from __future__ import annotations

from kit.figures.figure import Figure, draw
from kit.figures.written import Written, tempo_words, written
from kit.form.facts import form_facts
from kit.instruments.table import Instrument
from kit.lesson.lesson import Lesson
from kit.levels.difficulty import BarDifficulty, difficulty_by_bar
from kit.solo.guide import scale_guide
from kit.solo.practice import practice_plan as plan_steps

__all__ = ["practice_plan"]


def practice_plan(lesson: Lesson, *, level: str, instrument: str) -> Figure:
    """Lay out the steps from the first listening to the tempo of the level.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str
        Whose part.

    Raises
    ------
    LessonError
        If the lesson has no such level or instrument.
    """
    music = written(lesson, level=level, instrument=instrument)
    plays_solo = any(bar.kind == "solo" for bar in music.level.route.bars)
    scales = scale_guide(music.played, music.form) if plays_solo else ()
    steps = plan_steps(
        form_facts(music.played, music.form),
        # A student sets a metronome to felt beats, dotted quarters in 6/8.
        tempo_qpm=music.level.settings.tempo,
        hardest=_full_bars(music, lesson.instrument(instrument)),
        solo_scales=tuple(str(scale.scale) for scale in scales),
        level=level,
    )
    title = f"How to practise: {music.level.settings.title.lower()}"
    aside = f"{music.player}, in {music.sheet.key}; the goal is {tempo_words(music.level)}"
    words = "\n".join(
        (
            f"{title}, {aside}.",
            *(f"{place}. {step.title}. {step.text}" for place, step in enumerate(steps, 1)),
        )
    )
    html = draw("practice_plan", title=title, aside=aside, steps=steps)
    return Figure(
        "practice-plan", title, html, words, {"level": level, "instrument": instrument}
    )


def _full_bars(music: Written, player: Instrument) -> tuple[BarDifficulty, ...]:
    """Give each bar's difficulty; nobody can loop a pick-up by itself."""
    every = difficulty_by_bar(music.sheet, music.level.tempo_qpm, instrument=player)
    return tuple(one for one in every if not music.sheet.bars[one.bar].pickup)
