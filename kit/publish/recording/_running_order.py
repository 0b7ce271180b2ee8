"""In what order is a lesson recorded, and at what time does each thing begin?

Talk, count-in, the sections as they are played, talk. Playing times are exact (the
route's); talk is what lesson.toml says, or a suggestion whose length is estimated from
its words.

Source: 130 words a minute for speech to listeners, common practice (120 to 150).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

from kit.figures.written import tempo_words
from kit.form.facts import form_facts
from kit.form.wording import counted
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.lesson.publish_tables import Talk
from kit.publish._wording import feel_words
from kit.route.timing import chapters

__all__ = ["OrderItem", "running_order", "spoken_seconds"]

WORDS_A_MINUTE = 130
RING_OUT_S = 3.0
"""The last chord is left to ring before anyone speaks."""
_STEP_S = 5
_FORM_SENTENCES = 2


@dataclass(frozen=True, slots=True)
class OrderItem:
    """One thing in a recording.

    Parameters
    ----------
    kind : "talk", "count-in" or "play"
    text : str
        What to say, or which section it is.
    start_s, seconds : float
        From the beginning of the recording, and for how long.
    audio_s : float or None
        Where it begins on the audio's own clock, for what is played.
    estimated : bool
        Whether the length is an estimate.
    """

    kind: Literal["talk", "count-in", "play"]
    text: str
    start_s: float
    seconds: float
    audio_s: float | None = None
    estimated: bool = False

    @property
    def end_s(self) -> float:
        """Where it ends, from the beginning of the recording."""
        return self.start_s + self.seconds


def running_order(lesson: Lesson, level_name: str) -> tuple[OrderItem, ...]:
    """Give the running order of a level's recording.

    Raises
    ------
    LessonError
        If the level cannot be computed.
    """
    level = lesson.level(level_name)
    wishes = lesson.settings.recording
    items: list[OrderItem] = []
    items.extend(_talks(wishes.talk or _opening(lesson, level), 0.0, not wishes.talk))
    music = items[-1].end_s if items else 0.0
    for start, end, title in chapters(level.route, level.tempo_qpm):
        is_count = title == "Count-in"
        text = (
            f"Count-in, {counted(len(level.route.count_in), 'bar')}" if is_count else title
        )
        kind: Literal["count-in", "play"] = "count-in" if is_count else "play"
        items.append(OrderItem(kind, text, music + start, end - start, start))
    close = wishes.close or _closing(lesson)
    items.extend(_talks(close, items[-1].end_s + RING_OUT_S, not wishes.close))
    return tuple(items)


def spoken_seconds(text: str) -> float:
    """Estimate how long a text takes to say, in steps of five seconds."""
    seconds = len(text.split()) * 60 / WORDS_A_MINUTE
    return float(max(_STEP_S, ceil(seconds / _STEP_S) * _STEP_S))


def _talks(talks: Sequence[Talk], start: float, estimated: bool) -> Iterator[OrderItem]:
    for talk in talks:
        yield OrderItem("talk", talk.say, start, talk.seconds, estimated=estimated)
        start += talk.seconds


def _opening(lesson: Lesson, level: Level) -> tuple[Talk, ...]:
    settings = lesson.settings
    by = f" by {settings.composer}" if settings.composer else ""
    hello = (
        f"{lesson.title}{by}, {level.settings.title.lower()} level: "
        f"{tempo_words(level)}, {feel_words(level.settings.feel)}."
    )
    facts = form_facts(level.played, level.form).sentences[:_FORM_SENTENCES]
    texts = [hello, level.settings.summary, " ".join(facts)]
    return tuple(Talk(text, spoken_seconds(text)) for text in texts if text)


def _closing(lesson: Lesson) -> tuple[Talk, ...]:
    text = "What to practise first, and where the handout and the backing track are."
    credit = lesson.settings.rights.statement
    texts = [text, *([credit] if credit else [])]
    return tuple(Talk(text, spoken_seconds(text)) for text in texts)
