"""What is played at one level, bar by bar, and when.

A route is a list of passages over the form. From it comes the one bar-to-second map that
the audio, the page's cursor, the chapters and the running order share.

Conventions
-----------
* Time is counted in exact quarter notes from the first click of the count-in, and turned
  into seconds only by a tempo (quarter notes per minute).
* The sections of a passage are taken in the order of the form, going on from where the
  passage before stopped, and round again at its end. After a solo over A A B of an AABA
  tune, ``A`` is therefore the last A.
* A tag plays the passage's last bars again: ``times`` is how often in all.
* A pick-up after a full bar, or after the count-in, overlaps it; after a short bar it
  completes it.
* A fermata holds its note and the band; over the form's last bar, where all ends there.
* An intro plays bars of the form ahead of the head, without the melody: the form's last
  four bars, its last two twice (the turnaround), or its first two twice (a vamp).
* What the band does in a passage (`Passage.band`, a break) changes no bar and no second.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

from kit.errors import RouteError
from kit.form.sections import Form, Section
from kit.route._intros import INTROS, intro_places
from kit.route.bands import BarBand, PassageBand, bands_of
from kit.route.tempo import (
    STEADY,
    TempoMap,
    fermatas,
    held,
    quarters_to_seconds,
    ritardando_into,
)
from kit.tune.model import Meter, Tune

__all__ = [
    "INTROS",
    "Passage",
    "PassageKind",
    "PerformedBar",
    "Route",
    "Tag",
    "plan_route",
    "quarters_to_seconds",
]

PassageKind = Literal["head", "solo"]


@dataclass(frozen=True, slots=True)
class Tag:
    """The last `bars` of a passage, `times` in all; a *vamp* leaves the melody out."""

    bars: int = 2
    times: int = 3
    is_vamp: bool = False


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of the route: the head or a solo over some sections of the form.

    `sections` lists labels (``AAB``); empty means the rest of the form from where the
    passage before stopped, or the whole form at its start. In its last `break_bars` the
    band strikes once and leaves the soloist alone.
    """

    play: PassageKind
    sections: str = ""
    tag: Tag | None = None
    band: PassageBand = "full"
    break_bars: int = 0


@dataclass(frozen=True, slots=True)
class PerformedBar:
    """One bar of the performance.

    Parameters
    ----------
    kind : "count-in", "intro", "head", "solo" or "tag"
    section : str
        Label of the section, empty in the count-in.
    sheet_index : int
        Index of the bar on the level's sheet, -1 in the count-in.
    form_index : int
        Place in the unfolded head whose changes are played, -1 in the count-in.
    number : int
        Its printed number.
    time_through : int
        How often this printed bar has been played by now, from 1; 0 in an intro, which
        plays its changes only.
    start, length : Fraction
        Quarter notes from the first click, and of the bar as played.
    meter : Meter
        In force.
    melody : bool
        Whether the sheet's notes are played (False in an open solo).
    starts_section : bool
        Whether a section begins here.
    band : BarBand
        Who plays in it, and how.
    """

    kind: Literal["count-in", "intro", "head", "solo", "tag"]
    section: str
    sheet_index: int
    form_index: int
    number: int
    time_through: int
    start: Fraction
    length: Fraction
    meter: Meter
    melody: bool = True
    starts_section: bool = False
    is_pickup: bool = False
    band: BarBand = "full"

    @property
    def end(self) -> Fraction:
        """Quarter notes from the first click."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class Route:
    """All that is performed at one level, in order, and how its tempo runs."""

    count_in: tuple[PerformedBar, ...]
    bars: tuple[PerformedBar, ...]
    tempo_map: TempoMap = STEADY
    # Where a fermata is held: nothing new begins there.
    holds: tuple[tuple[Fraction, Fraction], ...] = ()

    @property
    def counted_bars(self) -> int:
        """Number of bars played, count-in and pick-ups left out."""
        return sum(not bar.is_pickup for bar in self.bars)

    @property
    def music_start(self) -> Fraction:
        """Where the count-in ends, in quarter notes from the first click."""
        return self.count_in[-1].end if self.count_in else Fraction(0)

    @property
    def end(self) -> Fraction:
        """Where the last bar ends, in quarter notes from the first click."""
        return self.bars[-1].end

    def second_at(self, position: Fraction, tempo_qpm: float) -> float:
        """Give the second of a position, from the first sample of the audio.

        Parameters
        ----------
        position : Fraction
            Quarter notes from the first click.
        tempo_qpm : float > 0
            Quarter notes per minute, before any slowing down.

        Raises
        ------
        ValueError
            If the tempo is not above zero.
        """
        return self.tempo_map.seconds(position, tempo_qpm)

    def seconds(self, tempo_qpm: float) -> float:
        """Give the playing time without the count-in, in seconds."""
        start = self.second_at(self.music_start, tempo_qpm)
        return self.second_at(self.end, tempo_qpm) - start

    def bar_starts(self, tempo_qpm: float) -> tuple[float, ...]:
        """Give the second at which each bar of `bars` begins, from the first sample."""
        return tuple(self.second_at(bar.start, tempo_qpm) for bar in self.bars)


def plan_route(
    passages: Sequence[Passage],
    *,
    form: Form,
    head: Tune,
    order: Sequence[int],
    solo: tuple[int, int] | None = None,
    count_in_bars: int = 2,
    intro: str = "",
    slows_down: bool = False,
) -> Route:
    """Work out every performed bar.

    Parameters
    ----------
    passages : sequence of Passage
        In playing order.
    form : Form
        Sections, as indices into the unfolded head.
    head : Tune
        The level's sheet; its first bars are the head as written.
    order : sequence of int
        The head's bars in playing order, as sheet indices (`kit.tune.unfold`).
    solo : (int, int), optional
        First sheet index and number of bars of a written solo. Without it solos are open.
    count_in_bars : int >= 0
        Full bars of clicks before the music.
    intro : str
        One of `INTROS`, or empty for none.
    slows_down : bool
        Whether the two bars before the last one are a ritardando.

    Raises
    ------
    RouteError
        If a passage asks for a section the form does not have, a tag is longer than its
        passage, the band cannot play it so (`bands_of`), or a written solo has another
        number of bars than the solos take.
    ValueError
        If there is no such intro.
    """
    if intro and intro not in INTROS:
        raise ValueError(f"no intro {intro!r}; there are {', '.join(INTROS)}")
    planner = _Planner(form, head, order, solo)
    for _ in range(count_in_bars):
        planner.add_count_in()
    if intro:
        planner.add_intro(intro)
    for passage in passages:
        planner.add_passage(passage)
    planner.check_solo_length()
    bars = tuple(planner.bars)
    full = [bar.start for bar in bars if not bar.is_pickup]
    slowing = ritardando_into(full) if slows_down else STEADY
    last = max(section.last for section in form.sections)
    holds = fermatas(
        (bar.start, head.bars[bar.sheet_index].notes)
        for place, bar in enumerate(bars)
        if bar.melody and (bar.form_index != last or place == len(bars) - 1)
    )
    return Route(tuple(planner.count_in), bars, held(slowing, holds), holds)


class _Planner:
    """Builds the list of performed bars; keeps the clock and the place in the form."""

    def __init__(
        self, form: Form, sheet: Tune, order: Sequence[int], solo: tuple[int, int] | None
    ) -> None:
        self.form = form
        self.sheet = sheet
        self.order = order
        self.solo = solo
        self.now = Fraction(0)
        self.count_in: list[PerformedBar] = []
        self.bars: list[PerformedBar] = []
        self.place = 0
        self.solo_bars = self.traded = 0
        self.heard: dict[int, int] = {}

    def add_count_in(self) -> None:
        meter = self.sheet.meter
        bar = PerformedBar(
            "count-in", "", -1, -1, 0, 1, self.now, meter.bar_length, meter, melody=False
        )
        self.count_in.append(bar)
        self.now = bar.end

    def add_intro(self, intro: str) -> None:
        for section, index in intro_places(self.form, intro):
            written = self.sheet.bars[self.order[index]]
            bar = PerformedBar(
                "intro", section.label, self.order[index], index, written.number, 0,
                self.now, written.meter.bar_length, written.meter, melody=False,
            )  # fmt: skip
            self.bars.append(bar)
            self.now = bar.end

    def add_passage(self, passage: Passage) -> None:
        first = len(self.bars)
        for section in self._sections_of(passage):
            for index in _indices(section):
                self._add_bar(passage.play, section, index)
        bars = self.bars[first:]
        bands = bands_of(bars, passage.band, passage.break_bars, traded=self.traded)
        # Fours go on from one chorus into the next.
        full = sum(not bar.is_pickup for bar in bars)
        self.traded = self.traded + full if passage.band == "trading-fours" else 0
        self.bars[first:] = [
            replace(bar, band=how) for bar, how in zip(bars, bands, strict=True)
        ]
        if passage.tag is not None:
            self._add_tag(passage.tag, self.bars[first:])

    def _sections_of(self, passage: Passage) -> list[Section]:
        sections = self.form.sections
        if not passage.sections:
            # To the end of the form, so that the next passage begins at its top.
            taken = list(sections[self.place :])
            self.place = 0
            return taken
        taken = []
        for label in self.form.split_labels(passage.sections):
            taken.append(self._next(label, passage.sections))
        return taken

    def _next(self, label: str, wanted: str) -> Section:
        sections = self.form.sections
        for ahead in range(len(sections)):
            place = (self.place + ahead) % len(sections)
            if sections[place].label == label:
                self.place = (place + 1) % len(sections)
                return sections[place]
        raise RouteError(
            f'the route asks for sections "{wanted}", and the form {self.form.pattern} '
            f"has no section {label}",
            remedy="name sections of the form",
        )

    def _add_bar(self, play: PassageKind, section: Section, index: int) -> None:
        sheet_index = self.order[index]
        melody = True
        written = self.sheet.bars[sheet_index]
        if play == "solo":
            melody = False
            # Pick-ups lead into the melody; a written solo is counted in full bars.
            if not written.pickup:
                if self.solo is not None and self.solo_bars < self.solo[1]:
                    sheet_index = self.solo[0] + self.solo_bars
                    melody = True
                self.solo_bars += 1
        heard = self.sheet.bars[sheet_index]
        self._append(
            PerformedBar(
                kind=play,
                section=section.label,
                sheet_index=sheet_index,
                form_index=index,
                number=heard.number,
                time_through=1,
                start=self.now,
                length=heard.length,
                meter=written.meter,
                melody=melody,
                starts_section=index == section.first,
                is_pickup=written.pickup,
            )
        )

    def _append(self, bar: PerformedBar) -> None:
        before = self.bars[-1] if self.bars else None
        # A pick-up takes time only where the bar before it leaves room for it.
        lacking = (
            before.meter.bar_length - before.length
            if before is not None and not before.is_pickup
            else Fraction(0)
        )
        start = self.now
        if bar.is_pickup:
            start -= bar.length - min(lacking, bar.length)
        elif lacking > 0 and before is not None:
            # Nothing completes the short bar: its last beats are silent.
            start += lacking
        heard = self.heard.get(bar.sheet_index, 0) + 1
        self.heard[bar.sheet_index] = heard
        self.bars.append(replace(bar, start=start, time_through=heard))
        self.now = start + bar.length

    def _add_tag(self, tag: Tag, passage: list[PerformedBar]) -> None:
        full = [bar for bar in passage if not bar.is_pickup]
        if not 0 < tag.bars <= len(full):
            raise RouteError(
                f"a tag of {tag.bars} bars does not fit a passage of {len(full)} bars",
                remedy="make the tag shorter",
            )
        # The passage itself was the first time.
        for _ in range(tag.times - 1):
            for bar in full[-tag.bars :]:
                again = replace(bar, kind="tag", starts_section=False, band="full")
                self._append(replace(again, melody=bar.melody and not tag.is_vamp))

    def check_solo_length(self) -> None:
        if self.solo is not None and self.solo[1] != self.solo_bars:
            raise RouteError(
                f"the written solo has {self.solo[1]} bars, and the route's solos take "
                f"{self.solo_bars}",
                remedy="make the solo as long as the sections it is played over",
            )


def _indices(section: Section) -> Iterator[int]:
    if section.pickup is not None:
        yield section.pickup
    yield from range(section.first, section.last + 1)
