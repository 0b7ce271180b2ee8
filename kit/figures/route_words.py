"""What is played at a level, in one line of words?

``Count-in 2 bars; head A A B A; solo A A B; head A, its last two bars three times in all``
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.form.wording import counted, number_word
from kit.lesson.level import Level
from kit.route.plan import Passage, Tag

__all__ = ["route_words"]

_BANDS = {
    "full": "",
    "stop-time": " in stop-time",
    "double-time": " in double time",
    "trading-fours": ", fours traded with the drums",
}
_ENDINGS = {
    "ritardando": "slowing down at the end",
    "stop": "the last chord cut short",
}


def route_words(level: Level, *, space: str = " ") -> str:
    """Say what is played, passage by passage, with the sections as they come.

    Parameters
    ----------
    level : Level
        A computed level.
    space : str
        What stands between labels: a no-break space where lines are broken by others.

    Returns
    -------
    str
        One line without a full stop.
    """
    parts = []
    if level.route.count_in:
        parts.append(f"count-in {counted(len(level.route.count_in), 'bar')}")
    intro = sum(bar.kind == "intro" for bar in level.route.bars)
    if intro:
        parts.append(f"intro {counted(intro, 'bar')}")
    for passage, labels in _passages(level):
        words = f"{passage.play} {space.join(labels)}"
        parts.append(words + _band_words(passage) + _tag_words(passage.tag))
    if level.settings.band.ending in _ENDINGS:
        parts.append(_ENDINGS[level.settings.band.ending])
    line = "; ".join(parts)
    return line[:1].upper() + line[1:]


def _passages(level: Level) -> Iterator[tuple[Passage, list[str]]]:
    """Pair each passage of the route with the labels of the sections it takes."""
    form = level.form
    places = [
        next(
            p for p, section in enumerate(form.sections) if section.first == bar.form_index
        )
        for bar in level.route.bars
        if bar.starts_section
    ]
    taken = 0
    for passage in level.settings.route:
        if passage.sections:
            count = len(form.split_labels(passage.sections))
        else:
            count = len(form.sections) - places[taken]
        here = places[taken : taken + count]
        taken += count
        yield passage, [form.sections[place].label for place in here]


def _band_words(passage: Passage) -> str:
    words = _BANDS[passage.band]
    if passage.break_bars:
        count = passage.break_bars
        bars = "bar" if count == 1 else f"{number_word(count)} bars"
        words += f", a break in its last {bars}"
    return words


def _tag_words(tag: Tag | None) -> str:
    if tag is None or tag.times < 2:
        return ""
    bars = "bar" if tag.bars == 1 else f"{number_word(tag.bars)} bars"
    times = "twice" if tag.times == 2 else f"{number_word(tag.times)} times"
    vamp = " as a vamp" if tag.is_vamp else ""
    return f", its last {bars} {times} in all{vamp}"
