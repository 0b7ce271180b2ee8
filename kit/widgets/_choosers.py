"""What can be chosen in a widget, and what does choosing lead to?

A `Chooser` is a labelled list of values; the widget sends back the value picked. Choosers
are plain data on the way to the browser, so that the browser's own select boxes serve, with
their keyboard behaviour and screen-reader support.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from kit.figures.player import MIX_WORDS
from kit.form.wording import bars_words
from kit.lesson.choices import SIZE_NAMES, Stretch, bars_from, stretches
from kit.lesson.keys import practice_keys
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level

__all__ = [
    "SIZES",
    "SOME_BARS",
    "Chooser",
    "any_level_chooser",
    "instrument_chooser",
    "key_chooser",
    "level_chooser",
    "mix_chooser",
    "section_chooser",
    "section_or_bars_chooser",
    "size_chooser",
]

SOME_BARS = ("bars", "some bars …")
"""An option for which the browser asks for two printed numbers and sends ``5-8``."""
SIZES = {
    name: (name.capitalize(), bars)
    for name, bars in zip(SIZE_NAMES, (8, 4, 2), strict=True)
}
"""Words, and how many bars stand in a line."""


@dataclass(frozen=True, slots=True)
class Chooser:
    """One choice: its name in the call, its label, and ``(value, text)`` pairs."""

    name: str
    label: str
    options: tuple[tuple[str, str], ...]

    def __contains__(self, value: str) -> bool:
        """Whether the value can be chosen."""
        return any(value == option for option, _ in self.options)

    def to_browser(self, value: str) -> dict[str, Any]:
        """Give it as plain data with the value in force."""
        return {
            "name": self.name,
            "label": self.label,
            "value": value,
            "options": [list(option) for option in self.options],
        }


def instrument_chooser(lesson: Lesson) -> Chooser:
    """Offer the lesson's instruments."""
    instruments = lesson.settings.instruments
    return Chooser("instrument", "Instrument", tuple((h.slug, h.name) for h in instruments))


def level_chooser(lesson: Lesson, name: str = "level", label: str = "Level") -> Chooser:
    """Offer the lesson's levels."""
    levels = lesson.settings.levels
    return Chooser(name, label, tuple((level.name, level.title) for level in levels))


def section_chooser(stretches: Iterable[Stretch]) -> Chooser:
    """Offer the stretches of a level's sheet."""
    return Chooser("section", "Section", _named(stretches))


def section_or_bars_chooser(level: Level, chosen: str) -> Chooser:
    """Offer the stretches of a level's sheet, the bars chosen, and any other bars."""
    named = _named(stretches(level))
    bars = None if chosen in dict(named) else bars_from(level, chosen)
    own = () if bars is None else ((chosen, _bars_title(bars)),)
    return Chooser("section", "Section", (*named, *own, SOME_BARS))


def _named(found: Iterable[Stretch]) -> tuple[tuple[str, str], ...]:
    return tuple((s.name, s.title[:1].upper() + s.title[1:]) for s in found)


def _bars_title(bars: tuple[int, int]) -> str:
    words = bars_words(range(bars[0], bars[1] + 1))
    return words[:1].upper() + words[1:]


def size_chooser() -> Chooser:
    """Offer the sizes in which music is drawn."""
    options = tuple((name, words) for name, (words, _) in SIZES.items())
    return Chooser("size", "Size", options)


def any_level_chooser(lesson: Lesson) -> Chooser:
    """Offer all levels at once, and each by itself."""
    one = level_chooser(lesson)
    return Chooser(one.name, one.label, (("", "All levels"), *one.options))


def key_chooser(level: Level) -> Chooser:
    """Offer a level's own concert key and the twelve keys to practise in."""
    own = level.sheet.key
    keys = tuple((key.name, str(key)) for key in practice_keys(own))
    return Chooser("key", "Concert key", (("", f"Own key, {own}"), *keys))


def mix_chooser() -> Chooser:
    """Offer the mixes of a level's audio."""
    return Chooser(
        "mix",
        "Mix",
        tuple((m, words[:1].upper() + words[1:]) for m, words in MIX_WORDS.items()),
    )
