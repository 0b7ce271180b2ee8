"""The player: a level's audio with the bar that sounds lit in the notation.

The browser asks for a mix when play is first pressed; the kernel renders it (or takes it
from the shelf) and sends it as a binary message. Audio is never part of the widget's state,
so it is never saved with the notebook.

Messages from the browser: ``{"choose": {...}}`` as every view, and ``{"render": true}``.
To the browser: ``{"audio": {"level", "mix", "mime"}}`` with the bytes behind it, or a
`problem`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import traitlets

from kit import figures
from kit.errors import KitError
from kit.figures import Figure
from kit.lesson import Lesson
from kit.route import timing_map
from kit.tune.model import bar_id
from kit.widgets.assets import script
from kit.widgets.choosers import Chooser, instrument_chooser, level_chooser, mix_chooser
from kit.widgets.view import LessonView

__all__ = ["PlayerView"]

AUDIO_MIME = "audio/mpeg"


class PlayerView(LessonView):
    """Play and pause, seek by slider or by a click on a bar, follow the notation."""

    _esm = script("choosers", "clock", "player")

    strip = traitlets.Unicode().tag(sync=True)
    """The notation, as SVG."""
    bars: Any = traitlets.List().tag(sync=True)
    """Performed bars: id in the strip, words, start and end in seconds."""
    seconds = traitlets.Float().tag(sync=True)

    def __init__(self, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        super().__init__(lesson, {"instrument": None, **call})

    def offer(self) -> Iterable[Chooser]:
        """Offer levels, mixes, and the instrument whose part is followed."""
        return (level_chooser(self.lesson), mix_chooser(), instrument_chooser(self.lesson))

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Say what there is to hear."""
        return figures.player(self.lesson, level=chosen["level"], mix=chosen["mix"])

    def _default(self, name: str) -> str:
        return "demo" if name == "mix" else super()._default(name)

    def _drawn(self) -> dict[str, Any]:
        name, instrument = self.chosen["level"], self.chosen["instrument"]
        level = self.lesson.level(name)
        timing = timing_map(level.route, level.tempo_qpm)
        strip = figures.excerpt(self.lesson, level=name, instrument=instrument)
        bars = [
            {
                "id": bar_id(performed.sheet_index),
                "words": _bar_words(entry),
                "start": entry["start"],
                "end": entry["end"],
            }
            for performed, entry in zip(level.route.bars, timing["bars"], strict=True)
        ]
        return {
            **super()._drawn(),
            "strip": strip.html,
            "bars": bars,
            "seconds": level.count_in_s + level.seconds,
        }

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if isinstance(content, dict) and content.get("render") is True:
            self.render()
            return
        super()._on_message(widget, content, buffers)

    def render(self) -> None:
        """Render the mix chosen and send it to the browser."""
        # Band, synthesiser and encoder are needed only once somebody presses play.
        from kit.lesson.audio import page_audio  # noqa: PLC0415

        level, mix = self.chosen["level"], self.chosen["mix"]
        try:
            audio = page_audio(self.lesson, level, mix)
        except KitError as error:
            self.problem = str(error)
            return
        self.problem = ""
        self.send(
            {"audio": {"level": level, "mix": mix, "mime": AUDIO_MIME}},
            buffers=[audio.data],
        )


def _bar_words(entry: Mapping[str, Any]) -> str:
    """Name a bar as it sounds: ``bar 7, head A``."""
    section = f" {entry['section']}" if entry["section"] else ""
    return f"bar {entry['number']}, {entry['kind']}{section}"
