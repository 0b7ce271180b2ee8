"""What is the audio of a level, and where does it lie? (The sound itself is elsewhere.)"""

from __future__ import annotations

from kit.figures.figure import Figure, draw
from kit.figures.route_words import route_words
from kit.figures.written import length_words, tempo_words
from kit.form.wording import counted
from kit.lesson.lesson import Lesson

__all__ = ["MIX_WORDS", "player"]

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
