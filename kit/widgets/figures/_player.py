"""The player: a level's audio with the bar that sounds lit in the notation.

The browser asks for sound when play is pressed. Some seconds from there on are rendered and
sent at once, the whole performance when it is ready; a loop is a file of its own. Every
tempo is played by the band, not stretched. Audio goes as binary messages and is never part
of the widget's state, so it is never saved with the notebook.

Messages from the browser: ``{"choose": {...}}`` as every view, ``{"ready": true}`` when it
is drawn, and ``{"play": {"from": second}}``. To the browser, with the bytes behind it::

    {"audio": {"kind", "key", "start", "lead", "mime"}}

`kind` is ``opening``, ``whole`` or ``loop``; `key` says for which choices it is; the file's
second `lead` is second `start` of the performance.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from typing import Any

import traitlets

from kit.cache import fingerprint
from kit.errors import KitError
from kit.figures.excerpt import excerpt
from kit.form.wording import bars_words
from kit.lesson.choices import bars_from, printed_section, stretches
from kit.lesson.lesson import Lesson
from kit.route.timing import timing_map
from kit.tune.model import bar_id
from kit.widgets._assets import script
from kit.widgets._choosers import (
    SOME_BARS,
    Chooser,
    instrument_chooser,
    level_chooser,
    mix_chooser,
)
from kit.widgets._state import Destination
from kit.widgets.figures._figure_view import FigureView

__all__ = ["PlayerView"]

TEMPOS = (100, 95, 90, 85, 80, 75, 70, 60, 50, 110, 120)
"""In per cent of the level's tempo; the level's own first."""
OPENING_S = 12.0
"""A section or so: rendered in half a second, and heard while the rest is made."""


class PlayerView(FigureView):
    """Play and pause, seek by slider or by a click on a bar, loop, follow the notation."""

    _esm = script("choosers", "clock", "sound", "player")

    strip = traitlets.Unicode().tag(sync=True)
    """The notation, as SVG."""
    bars: Any = traitlets.List().tag(sync=True)
    """Performed bars: id in the strip, number, words, start and end in seconds."""
    seconds = traitlets.Float().tag(sync=True)
    key = traitlets.Unicode().tag(sync=True)
    """Names everything that the sound depends on: choices, music, band."""

    def __init__(self, kind: str, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        chosen = {"instrument": None, "tempo": None, "loop": None, **call}
        super().__init__(kind, lesson, chosen)

    def offer(self) -> Iterable[Chooser]:
        """Offer levels, mixes, tempos, loops, and the instrument whose part is followed."""
        return (
            level_chooser(self.lesson),
            mix_chooser(),
            Chooser("tempo", "Tempo", tuple((str(n), f"{n} %") for n in TEMPOS)),
            self._loop_chooser(),
            instrument_chooser(self.lesson),
        )

    def choose(self, **values: str) -> None:
        """Choose as the browser does; bars that are not there leave a `problem`."""
        level = self.lesson.level(self.chosen["level"])
        loop = values.get("loop", "")
        if loop and bars_from(level, loop) is None:
            self.problem = f"There are no bars {loop.replace('-', ' to ')} to repeat."
            return
        super().choose(**values)

    def go_to(self, place: Destination) -> None:
        """Repeat the section that was chosen elsewhere; nothing for the whole tune.

        Bars of a problem are looked at, not practised: the player stays where it is.
        """
        if place.bars is not None:
            return
        level = self.lesson.level(self.chosen["level"])
        name = printed_section(level, place.section)
        shown = {one.name: one for one in stretches(level)}.get(name or "")
        loop = ""
        if name and shown is not None:
            bars = [
                b for b in level.sheet.bars[shown.first : shown.last + 1] if not b.pickup
            ]
            loop = f"{bars[0].number}-{bars[-1].number}"
        if name is not None and loop != self.chosen["loop"]:
            self.choose(loop=loop)

    def render(self, from_s: float = 0.0) -> None:
        """Send sound for the choices made, from a second of the performance on."""
        try:
            if self.chosen["loop"]:
                self._send_loop()
            else:
                self._send_from(from_s)
        except KitError as error:
            self.problem = str(error)
            return
        self.problem = ""

    def _default(self, name: str) -> str:
        return "100" if name == "tempo" else super()._default(name)

    def _drawn(self) -> dict[str, Any]:
        name, instrument = self.chosen["level"], self.chosen["instrument"]
        level = self.lesson.level(name)
        tempo_qpm = level.tempo_qpm * self._percent / 100
        timing = timing_map(level.route, tempo_qpm)
        strip = excerpt(self.lesson, level=name, instrument=instrument)
        bars = [
            {
                "id": bar_id(performed.sheet_index),
                "number": performed.number,
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
            "seconds": bars[-1]["end"],
            "key": self._sound_key(),
        }

    @property
    def _percent(self) -> int:
        return int(self.chosen["tempo"])

    def _sound_key(self) -> str:
        """Name what sounds: the choices, and what the files of the lesson make of them."""
        # The band is needed for what it is asked to play.
        from kit.tracks.rendition import rendition  # noqa: PLC0415

        planned = rendition(self.lesson, self.chosen["level"], tempo_percent=self._percent)
        music = fingerprint(planned, self.lesson.settings.soundfont)[:16]
        said = [self.chosen[name] for name in ("level", "mix", "tempo", "loop")]
        return "/".join((*said, music))

    def _loop_chooser(self) -> Chooser:
        # Band and levels' difficulty are needed for the list of loops alone.
        from kit.tracks.loops import level_loops  # noqa: PLC0415

        level = self.lesson.level(self.chosen["level"])
        options = {"": "nothing"}
        for loop in level_loops(self.lesson, level.name):
            what = loop.section or "hard"
            options[loop.name] = f"{what}, {bars_words(range(loop.first, loop.last + 1))}"
        own = self.chosen["loop"]
        if own not in options and bars_from(level, own) is not None:
            first, last = own.split("-")
            options[own] = bars_words(range(int(first), int(last) + 1))
        return Chooser("loop", "Repeat", (*options.items(), SOME_BARS))

    def _on_message(self, widget: Any, content: Any, buffers: list[memoryview]) -> None:
        if not isinstance(content, dict):
            return
        if content.get("ready") is True:
            threading.Thread(target=self._warm_up, daemon=True).start()
        elif isinstance(content.get("play"), dict):
            start = content["play"].get("from")
            self.render(float(start) if isinstance(start, int | float) else 0.0)
        else:
            super()._on_message(widget, content, buffers)

    def _warm_up(self) -> None:
        from kit.tracks.hearing import warm_up  # noqa: PLC0415 - loads what it warms

        if _WARM.is_set():
            return
        _WARM.set()
        try:
            warm_up(self.lesson, self.chosen["level"], self.chosen["mix"])
        except KitError:
            # Nobody has asked for sound yet; who does is told what is wrong.
            _WARM.clear()

    def _send_loop(self) -> None:
        from kit.tracks.hearing import bars_looped  # noqa: PLC0415 - needs the band

        level = self.lesson.level(self.chosen["level"])
        bars = bars_from(level, self.chosen["loop"])
        if bars is None:
            return
        audio = bars_looped(
            self.lesson, level.name, self.chosen["mix"], bars, tempo_percent=self._percent
        )
        played = next(bar for bar in self.bars if bar["number"] == bars[0])
        # The sticks are one bar of the meter in which the loop begins.
        shown = next(bar for bar in level.sheet.bars if bar.number == bars[0])
        quarter_s = 6000 / (level.tempo_qpm * self._percent)
        lead = float(shown.meter.bar_length) * quarter_s
        self._deliver("loop", self.key, audio, start_s=played["start"], lead_s=lead)

    def _send_from(self, from_s: float) -> None:
        """Send the whole if it is there, else an opening now and the whole later."""
        from kit.tracks.hearing import opening_audio, whole_if_made  # noqa: PLC0415

        level, mix, percent = self.chosen["level"], self.chosen["mix"], self._percent
        made = whole_if_made(self.lesson, level, mix, tempo_percent=percent)
        if made is not None:
            self._deliver("whole", self.key, made)
            return
        start = min(max(from_s, 0.0), max(0.0, self.seconds - 1.0))
        audio = opening_audio(
            self.lesson,
            level,
            mix,
            start_s=start,
            end_s=min(start + OPENING_S, self.seconds),
            tempo_percent=percent,
        )
        self._deliver("opening", self.key, audio, start_s=start)
        threading.Thread(
            target=self._send_whole, args=(self.key, level, mix, percent), daemon=True
        ).start()

    def _send_whole(self, key: str, level: str, mix: str, percent: int) -> None:
        from kit.tracks.hearing import whole_audio  # noqa: PLC0415 - needs the band

        try:
            audio = whole_audio(self.lesson, level, mix, tempo_percent=percent)
        except KitError as error:
            self.problem = str(error)
            return
        self._deliver("whole", key, audio)

    def _deliver(
        self, kind: str, key: str, audio: Any, *, start_s: float = 0.0, lead_s: float = 0.0
    ) -> None:
        about = {"kind": kind, "key": key, "start": start_s, "lead": lead_s}
        self.send({"audio": {**about, "mime": audio.mime}}, buffers=[audio.data])


_WARM = threading.Event()
"""Set once a player of this kernel loads what rendering needs."""


def _bar_words(entry: Mapping[str, Any]) -> str:
    """Name a bar as it sounds: ``bar 7, head A``."""
    section = f" {entry['section']}" if entry["section"] else ""
    return f"bar {entry['number']}, {entry['kind']}{section}"
