"""What is there to hear of a level: which mix, what is played, how fast and how long?"""

from __future__ import annotations

from html import escape

from kit.figures._page import Asked
from kit.figures.figure import Figure, draw
from kit.figures.route_words import route_words
from kit.figures.written import length_words, tempo_words
from kit.form.wording import counted
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level

__all__ = ["MIX_WORDS", "on_page", "player"]

MIX_WORDS = {
    "demo": "melody with the band",
    "backing": "the band alone, for you to play with",
    "melody": "the melody alone",
}
"""The mixes by their file name, and what one hears."""


def player(lesson: Lesson, *, level: str, mix: str = "demo") -> Figure:
    """Say what there is to hear: route, tempo, length, and the file a build makes.

    Raises
    ------
    ValueError
        If there is no such mix.
    LessonError
        If the level is not there or cannot be computed.
    """
    if mix not in MIX_WORDS:
        raise ValueError(f"{mix!r} is no mix; choose from {', '.join(MIX_WORDS)}")
    found = lesson.level(level)
    title = f"Listen: {lesson.title}, {found.settings.title.lower()}"
    facts = [
        ("What you hear", MIX_WORDS[mix]),
        ("What is played", route_words(found)),
        ("Tempo", tempo_words(found)),
        (
            "Length",
            f"{counted(found.route.counted_bars, 'bar')}, {length_words(found.seconds)}, "
            "after the count-in",
        ),
        ("Audio file, once built", f"audio/{found.name}-{mix}.mp3"),
    ]
    words = "\n".join((f"{title}.", *(f"{name}: {value}." for name, value in facts)))
    html = draw("player", title=title, facts=facts)
    return Figure("player", title, html, words, {"level": level, "mix": mix})


def on_page(asked: Asked) -> str:
    """Say it in a sentence: the page has one player for all."""
    mix = asked.options.get("mix") or "demo"
    shown = asked.lesson.level(asked.level)
    words = f"{MIX_WORDS[mix]}, {shown.settings.tempo:g} beats a minute, {_minutes(shown)}"
    return f"<p><strong>{escape(shown.settings.title)}</strong>: {escape(words)}</p>"


def _minutes(level: Level) -> str:
    return f"{length_words(level.seconds + level.count_in_s)} with its count-in"
