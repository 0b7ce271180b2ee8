"""The changes editor: a level's chords as a grid of bars, to be replaced and reharmonised.

Chords are shown and typed in the key of the instrument chosen, and stored at concert pitch
as edits of the level's file. What rubs against the melody is marked in the grid, with the
reason underneath; `kit.check.melody` decides.

Messages from the browser, besides those of every editor: ``{"select": "bar beat"}``,
``{"preview": {...}}``, ``{"cancel": true}``, ``{"apply": {...}}`` as on the bench,
``{"take_out": number}`` and ``{"listen": "source" | "level"}``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import traitlets

from kit.check.melody import Clash, clashes
from kit.errors import LevelError
from kit.figures.figure import Figure, draw
from kit.lesson.lesson import Lesson
from kit.levels.edit import Edit
from kit.levels.values import beat_words
from kit.tune.model import Bar, Tune
from kit.widgets._assets import script
from kit.widgets._choosers import Chooser, instrument_chooser
from kit.widgets.editors._bench_choices import FAMILIES, choices, edit_from
from kit.widgets.editors._bench_editing import LevelEditorView, edited_level_chooser
from kit.widgets.editors._bench_written import concert_edit
from kit.widgets.editors._editing import level_edits_of

__all__ = ["ChangesView", "changes_editor"]

BARS_PER_LINE = 4
CLASHES_SHOWN = 12


def changes_editor(
    lesson: Lesson, level: str | None = None, instrument: str | None = None
) -> ChangesView:
    """Edit the changes of a level.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        A level that is made of edits; the first one if left out.
    instrument : str, optional
        In whose key chords are shown and typed.
    """
    return ChangesView(lesson, {"instrument": instrument, "level": level})


@dataclass(frozen=True, slots=True)
class _Beat:
    """A beat of a bar at which a chord stands or may stand."""

    index: int
    number: int
    beat: Fraction

    @property
    def id(self) -> str:
        return f"{self.index} {self.beat}"

    @property
    def words(self) -> str:
        return f"bar {self.number}, {beat_words(self.beat)}"


class ChangesView(LevelEditorView):
    """A grid of bars with their chords, a chord chosen, and what can be done to it."""

    _esm = script("choosers", "editing", "editor_changes")

    grid: Any = traitlets.List().tag(sync=True)
    """Bars: number, section, chords (id, text, beat, whether new), held chord, clashes."""
    beats: Any = traitlets.List().tag(sync=True)
    """Places of the bar chosen: id and words."""
    selected = traitlets.Unicode().tag(sync=True)
    chosen_words = traitlets.Unicode().tag(sync=True)
    preview_words = traitlets.Unicode().tag(sync=True)
    possible: Any = traitlets.List().tag(sync=True)
    rubs: Any = traitlets.List().tag(sync=True)
    """What rubs against the melody, in words."""
    here: Any = traitlets.List().tag(sync=True)

    _place: _Beat | None = None

    def offer(self) -> Iterable[Chooser]:
        """Offer instruments and the levels that can be edited."""
        return instrument_chooser(self.lesson), edited_level_chooser(self.lesson)

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Write the changes out as a table of bars."""
        edits = level_edits_of(self.lesson, chosen["level"])
        part = self.written(edits.head, chosen)
        title = f"Changes of {self.lesson.title}, {_title(self.lesson, chosen['level'])}"
        aside = f"{part.instrument.name}, in {part.tune.key}"
        cells = [(bar.number, _chord_line(bar)) for bar in part.tune.bars]
        lines = [cells[i : i + BARS_PER_LINE] for i in range(0, len(cells), BARS_PER_LINE)]
        rubs = [_clash_words(clash) for clash in clashes(part.tune)]
        html = draw("changes", title=title, aside=aside, lines=lines, rubs=rubs)
        told = " | ".join(text for _, text in cells)
        return Figure("comparison", title, html, f"{title} ({aside}).\n{told}")

    def actions(self) -> Mapping[str, Callable[[Any], None]]:
        """Give what the browser may ask for."""
        return {
            **super().actions(),
            "select": self.select,
        }

    def select(self, name: Any) -> None:
        """Choose a place: ``"3 1"`` is beat 1 of the bar at index 3."""
        found = next((place for place in self._places() if place.id == name), None)
        if found is not None:
            self._place = found
            self._preview = None
            self.show()

    def _places(self) -> list[_Beat]:
        return [
            _Beat(index, bar.number, beat)
            for index, bar in enumerate(self.edits.head.bars)
            if not bar.pickup
            for beat in _beats(bar)
        ]

    def shown(self) -> dict[str, Any]:
        """Give the grid and what belongs to the place chosen."""
        head = self.head_shown()
        part = self.written(head, self.chosen)
        source = self.written(self.edits.source, self.chosen)
        if self._place is None:
            self._place = self._places()[0]
        place = self._place
        found = clashes(part.tune)
        bar = part.tune.bars[place.index]
        return {
            "grid": _grid(part.tune, source.tune, found),
            "beats": [
                {"id": one.id, "words": beat_words(one.beat)}
                for one in self._places()
                if one.index == place.index
            ],
            "selected": place.id,
            "chosen_words": f"{place.words}: {_chord_at(part.tune, place)}",
            "preview_words": str(self._preview) if self._preview else "",
            "possible": [] if self._preview else self._possible(bar),
            "rubs": [_clash_words(clash) for clash in found[:CLASHES_SHOWN]],
            "here": self.edits_here(),
            **self.history(),
        }

    def _possible(self, written: Bar) -> list[dict[str, Any]]:
        assert self._place is not None
        head = self.edits.head
        now = next(
            (event.symbol for event in head.bars[self._place.index].chords), None
        ) or next((e.symbol for e in head.chords_in_force(self._place.index)), None)
        tried = choices(
            head,
            bar=self._place.number,
            beat=self._place.beat,
            families=("Changes",),
            given={"chord": str(now) if now else "C"},
        )
        rows = [choice.to_browser() for choice in tried]
        shown = _symbol_at(written, self._place) or (now and str(now)) or ""
        for row in rows:
            for option in row["options"]:
                if option["kind"] == "text":
                    option["value"] = shown
        return rows

    def edits_here(self) -> list[dict[str, Any]]:
        """Give the edits of the changes in the bar chosen."""
        number = self._place.number if self._place else None
        names = {operation.name for operation in FAMILIES["Changes"]}
        return [
            {"number": place, "words": str(edit)}
            for place, edit in enumerate(self.edits.edits)
            if edit.bar == number and edit.do in names
        ]

    def read(self, wish: Any) -> Edit:
        """Make an edit at the place chosen of what the browser asks for."""
        if self._place is None:
            raise LevelError("no bar is chosen", remedy="choose one in the grid")
        edit = edit_from(self._place.number, self._place.beat, wish)
        part = self.written(self.edits.head, self.chosen)
        return concert_edit(edit, part.bar_intervals[self._place.index])

    def bar_heard(self) -> int:
        """Give the bar chosen."""
        return self._place.index if self._place else 0


def _beats(bar: Bar) -> list[Fraction]:
    """Give the felt beats of a bar, and the places of chords between them, from 1."""
    unit = Fraction(4, bar.meter.beat_type)
    felt = {k * bar.meter.pulse for k in range(bar.meter.pulses)}
    onsets = sorted(felt | {event.onset for event in bar.chords})
    return [onset / unit + 1 for onset in onsets if onset < bar.length]


def _beat_of(bar: Bar, onset: Fraction) -> Fraction:
    return onset / Fraction(4, bar.meter.beat_type) + 1


def _symbol_at(bar: Bar, place: _Beat) -> str:
    for event in bar.chords:
        if _beat_of(bar, event.onset) == place.beat:
            return str(event.symbol)
    return ""


def _chord_at(tune: Tune, place: _Beat) -> str:
    bar = tune.bars[place.index]
    own = _symbol_at(bar, place)
    if own:
        return own
    held = [
        event.symbol
        for event in tune.chords_in_force(place.index)
        if _beat_of(bar, event.onset) <= place.beat
    ]
    return f"no chord of its own, {held[-1]} holds on" if held else "no chord"


def _chord_line(bar: Bar) -> str:
    return " ".join(str(event.symbol) for event in bar.chords) or "%"


def _clash_words(clash: Clash) -> str:
    return f"Bar {clash.number}: {clash.note} over {clash.symbol} is {clash.why}"


def _title(lesson: Lesson, level: str) -> str:
    return next(one.title for one in lesson.settings.levels if one.name == level)


def _grid(tune: Tune, source: Tune, found: tuple[Clash, ...]) -> list[dict[str, Any]]:
    """Give the bars as plain data, new chords and clashes marked."""
    bars = []
    clashing = {clash.place[0] for clash in found}
    for index, bar in enumerate(tune.bars):
        if bar.pickup:
            continue
        old = source.bars[index].chords if index < len(source.bars) else ()
        held = tune.chords_in_force(index)
        bars.append(
            {
                "number": bar.number,
                "section": bar.section,
                "first": f"{index} 1",
                "chords": [
                    {
                        "id": f"{index} {_beat_of(bar, event.onset)}",
                        "text": str(event.symbol),
                        "beat": beat_words(_beat_of(bar, event.onset)),
                        "new": event not in old,
                    }
                    for event in bar.chords
                ],
                "held": str(held[0].symbol) if held and not bar.chords else "",
                "clash": index in clashing,
            }
        )
    return bars
