"""The route editor: what is played at a level, passage by passage, and for how long."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any, cast

from kit.authoring.settings_edits import SettingsEdits
from kit.errors import RouteError
from kit.figures.figure import Figure, draw
from kit.figures.route_words import route_words
from kit.figures.written import length_words
from kit.lesson.audio_table import ENDINGS
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level, make_level
from kit.lesson.route_table import MOST_BREAK_BARS
from kit.lesson.settings import LevelSettings
from kit.route.bands import PASSAGE_BANDS, PassageBand
from kit.route.plan import INTROS, Passage, PassageKind, Tag
from kit.tune.model import Tune
from kit.tune.read import read_tune
from kit.widgets._choosers import Chooser, level_chooser
from kit.widgets.editors._rows import RowsView, column

__all__ = ["RouteView", "route_editor"]

KEYS = ("route", "count_in_bars", "intro", "ending")
TEMPO_PERCENTS = (60, 70, 80, 90, 100)
MAX_COUNT_IN = 8
_PLAYS = (("head", "Head"), ("solo", "Solo"))
_TAGS = (("", "Melody"), ("vamp", "Vamp out"))
_BANDS = tuple(
    (name, name[:1].upper() + name[1:].replace("-", " ")) for name in PASSAGE_BANDS
)


def route_editor(lesson: Lesson, level: str | None = None) -> RouteView:
    """Edit what is played at a level.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level : str, optional
        First choice; the lesson's first level if left out.
    """
    return RouteView(lesson, {"level": level})


class RouteView(RowsView):
    """Passages in order, each over sections, with a tag; count-in, intro and ending."""

    def __init__(self, lesson: Lesson, call: Mapping[str, str | None]) -> None:
        self._edits: dict[str, SettingsEdits] = {}
        self._solos: dict[str, Tune] = {}
        super().__init__(lesson, call)
        self.columns = [
            column("play", "Play", "choice", _PLAYS),
            column("sections", f"Sections of {lesson.form.pattern}"),
            column("tag_bars", "Tag: last bars", "number"),
            column("tag_times", "times in all", "number"),
            column("tag_vamp", "Tag as", "choice", _TAGS),
            column("band", "Band", "choice", _BANDS),
            column("break", "Break: last bars", "number"),
        ]
        self.empty_row = dict.fromkeys((one["name"] for one in self.columns), "")
        self.empty_row |= {"play": "solo", "band": PASSAGE_BANDS[0]}

    def offer(self) -> Iterable[Chooser]:
        """Offer the levels."""
        return (level_chooser(self.lesson),)

    @property
    def edits(self) -> SettingsEdits:
        """The route of the level chosen, as lesson.toml has it."""
        name = self.chosen["level"]
        if name not in self._edits:
            self._edits[name] = SettingsEdits(self.lesson, name, KEYS)
        return self._edits[name]

    def figure(self, chosen: Mapping[str, str]) -> Figure:
        """Say what is played and how long it takes at each tempo."""
        values = SettingsEdits(self.lesson, chosen["level"], KEYS).values
        if chosen == self.chosen:
            values = self.edits.values
        name = next(
            one.title for one in self.lesson.settings.levels if one.name == chosen["level"]
        )
        title = f"Route of {self.lesson.title}, {name}"
        try:
            level = self._planned(chosen["level"], values)
        except RouteError as error:
            # It opens all the same, for this is where the route is mended.
            html = draw("route", title=title, line=str(error), bars="", rows=[])
            return Figure("player", title, html, f"{title}.\n{error}")
        rows = [(f"{p} %", f"{bpm:g}", minutes) for p, bpm, minutes in self._lengths(level)]
        line = f"{route_words(level)}."
        bars = f"{level.route.counted_bars} bars without the count-in."
        html = draw("route", title=title, line=line, bars=bars, rows=rows)
        told = "\n".join(f"At {share} of the tempo: {length}." for share, _, length in rows)
        return Figure("player", title, html, f"{title}.\n{line}\n{bars}\n{told}")

    def rows_now(self) -> list[dict[str, str]]:
        """Give the passages as texts."""
        route = self.edits.values["route"] or [{"play": "head"}]
        return [
            {
                "play": str(passage.get("play", "")),
                "sections": str(passage.get("sections", "")),
                "tag_bars": str(passage["tag"].get("bars", 2)) if "tag" in passage else "",
                "tag_times": str(passage["tag"].get("times", 3))
                if "tag" in passage
                else "",
                "tag_vamp": "vamp" if passage.get("tag", {}).get("vamp") else "",
                "band": str(passage.get("band", PASSAGE_BANDS[0])),
                "break": str(passage.get("break", "")),
            }
            for passage in route
        ]

    def fields_now(self) -> list[dict[str, Any]]:
        """Give count-in, intro and ending."""
        values = self.edits.values
        intros = [("", "None"), *((name, _words(name)) for name in INTROS)]
        endings = [(name, _words(name)) for name in ENDINGS]
        count_in = values["count_in_bars"]
        return [
            column("count_in_bars", "Count-in, bars", "number")
            | {"value": str(2 if count_in is None else count_in)},
            column("intro", "Intro", "choice", intros) | {"value": values["intro"] or ""},
            column("ending", "Ending", "choice", endings)
            | {"value": values["ending"] or ENDINGS[0]},
        ]

    def read_rows(self, rows: list[dict[str, str]]) -> Mapping[str, Any]:
        """Turn texts into passages.

        Raises
        ------
        RouteError
            If there is none, or a tag is no whole number.
        """
        if not rows:
            raise RouteError("the route is empty", remedy="add a passage, such as the head")
        return {"route": [_passage_row(row) for row in rows]}

    def read_field(self, name: str, text: str) -> Mapping[str, Any]:
        """Turn count-in, intro or ending into a value; what goes without saying is None."""
        if name == "count_in_bars":
            bars = _whole(text, "count-in", low=0, high=MAX_COUNT_IN)
            return {name: None if bars == 2 else bars}
        known = INTROS if name == "intro" else ENDINGS[1:]
        return {name: text if text in known else None}

    def check(self, values: Mapping[str, Any]) -> None:
        """Plan the route.

        Raises
        ------
        RouteError
            If it does not fit the form.
        """
        self._planned(self.chosen["level"], values)

    def _lengths(self, level: Level) -> list[tuple[int, float, str]]:
        percents = sorted({*TEMPO_PERCENTS, *self.lesson.settings.audio.tempos})
        tempo = level.settings.tempo
        return [
            (
                percent,
                round(tempo * percent / 100, 1),
                length_words(level.route.seconds(level.tempo_qpm * percent / 100)),
            )
            for percent in percents
        ]

    def _planned(self, name: str, values: Mapping[str, Any]) -> Level:
        """Compute the level with another route."""
        settings = next(one for one in self.lesson.settings.levels if one.name == name)
        count_in = values["count_in_bars"]
        band = replace(
            settings.band,
            intro=values["intro"] or "",
            ending=values["ending"] or ENDINGS[0],
        )
        changed = replace(
            settings,
            route=tuple(_passage(row) for row in values["route"] or [{"play": "head"}]),
            count_in_bars=2 if count_in is None else count_in,
            band=band,
        )
        return make_level(
            changed,
            head=self.lesson.head(name),
            form=self.lesson.form,
            solo=self._solo(settings),
        )

    def _solo(self, settings: LevelSettings) -> Tune | None:
        if settings.solo and settings.name not in self._solos:
            path, label = (
                self.lesson.file(settings.solo),
                self.lesson.name_of(settings.solo),
            )
            self._solos[settings.name] = read_tune(path, name=label)
        return self._solos.get(settings.name)

    def _on_edition(self, change: Any) -> None:
        self._solos.clear()
        super()._on_edition(change)


def _passage_row(row: Mapping[str, str]) -> dict[str, Any]:
    if row["play"] not in dict(_PLAYS):
        raise RouteError("a passage is head or solo", remedy="choose one of them")
    passage: dict[str, Any] = {"play": row["play"]}
    if row["sections"]:
        passage["sections"] = row["sections"]
    if row["tag_bars"] or row["tag_times"]:
        passage["tag"] = {
            "bars": _whole(row["tag_bars"] or "2", "tag's bars", low=1, high=64),
            "times": _whole(row["tag_times"] or "3", "tag's times", low=1, high=16),
        }
        if row.get("tag_vamp"):
            passage["tag"]["vamp"] = True
    band = row.get("band") or PASSAGE_BANDS[0]
    if band not in PASSAGE_BANDS:
        raise RouteError(
            f'the band has no "{band}"', remedy=f"choose from {', '.join(PASSAGE_BANDS)}"
        )
    if band == "trading-fours" and row["play"] == "head":
        raise RouteError("fours are traded in solos", remedy="make the passage a solo")
    if band != PASSAGE_BANDS[0]:
        passage["band"] = band
    if row.get("break"):
        passage["break"] = _whole(row["break"], "break", low=1, high=MOST_BREAK_BARS)
    return passage


def _passage(row: Mapping[str, Any]) -> Passage:
    tag = row.get("tag")
    return Passage(
        cast(PassageKind, row["play"]),
        row.get("sections", ""),
        Tag(tag.get("bars", 2), tag.get("times", 3), tag.get("vamp", False))
        if tag is not None
        else None,
        cast(PassageBand, row.get("band", PASSAGE_BANDS[0])),
        row.get("break", 0),
    )


def _whole(text: str, what: str, *, low: int, high: int) -> int:
    if not (text.isascii() and text.isdigit() and low <= int(text[:6]) <= high):
        raise RouteError(
            f'"{text}" is no number for the {what}', remedy=f"use {low} to {high}"
        )
    return int(text)


def _words(name: str) -> str:
    words = name.replace("-", " ")
    return words[:1].upper() + words[1:]
