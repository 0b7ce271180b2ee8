"""What does the rhythm section read: which bar, which chord, which place in the form?

The route says which bars are played; the chart lays the sheet's changes over them and
marks what an arranger would write in by hand: how full to play, where to fill, where the
last chord is. Pick-ups that overlap the bar before disappear here, and a short bar that
nothing completes is as long as the time it takes.

Slash chords in a row over one bass note, with other roots above it, are a pedal.

The last time through, the turnaround that leads back to the top is left out: when the
bar before the last holds the tonic chord and the last bar leads away from it, the tonic
is held to the end (common practice).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from kit.band._pedal import pedal_places
from kit.band.feel import Feel
from kit.route.plan import PerformedBar, Route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Meter, Tune
from kit.tune.pitch import Key

__all__ = ["Change", "ChartBar", "beat_of", "read_chart", "with_pedals"]


@dataclass(frozen=True, slots=True)
class Change:
    """A chord from a moment until the next change or the bar's end.

    `is_new` says that another chord sounded before it; `symbol` is None where nothing is
    written or no chord is to be played (N.C.). `on_pedal` says that the bass stays where
    it is while the chords change above it.
    """

    start: Fraction
    end: Fraction
    symbol: ChordSymbol | None
    is_new: bool
    on_pedal: bool = False


@dataclass(frozen=True, slots=True)
class ChartBar:
    """One bar as the rhythm section sees it; positions count from the first click.

    `fullness` runs from 0 (light) to 1 (full); `fill` is the fill played at the bar's end.
    """

    start: Fraction
    length: Fraction
    pulse: Fraction
    key: Key
    changes: tuple[Change, ...]
    feel: Feel
    is_solo: bool
    fullness: float
    opens_section: bool
    fill: Literal["", "small", "big"] = ""
    is_final: bool = False

    @property
    def end(self) -> Fraction:
        """Where the bar stops."""
        return self.start + self.length

    @property
    def beats(self) -> int:
        """Number of felt beats, a broken one at the end counted in."""
        # Rounded up, exactly: both are fractions.
        return -int(-self.length // self.pulse)

    @property
    def is_pedal(self) -> bool:
        """Whether the bass holds a pedal through the whole bar."""
        return all(change.on_pedal for change in self.changes)

    def chord_at(self, position: Fraction) -> ChordSymbol | None:
        """Give the chord in force at a position inside the bar."""
        symbol = None
        for change in self.changes:
            if change.start <= position:
                symbol = change.symbol
        return symbol


def beat_of(meter: Meter) -> Fraction:
    """Give the beat the band feels, in quarter notes.

    A quarter note in 4/4 and also in 2/2, where bass players count four; a dotted quarter
    in 6/8; the written unit in 3/8 or 5/8.
    """
    return min(meter.pulse, Fraction(1)) if not meter.is_compound else meter.pulse


def read_chart(
    sheet: Tune,
    route: Route,
    *,
    feel: Feel,
    section_feels: Mapping[str, Feel] | None = None,
) -> tuple[ChartBar, ...]:
    """Lay the changes over the route.

    Parameters
    ----------
    sheet : Tune
        The level's sheet.
    route : Route
        What is played; its bars point into the sheet.
    feel : Feel
        Of the whole performance.
    section_feels : mapping of section label to Feel, optional
        Where a section has another feel.
    """
    played = [bar for bar in route.bars if not bar.is_pickup] or list(route.bars)
    ends = [bar.start for bar in played[1:]] + [max(played[-1].end, route.end)]
    chart: list[ChartBar] = []
    last: ChordSymbol | None = None
    for index, (bar, end) in enumerate(zip(played, ends, strict=True)):
        changes = _changes(sheet, bar, end, last)
        last = changes[-1].symbol
        chart.append(
            ChartBar(
                start=bar.start,
                length=end - bar.start,
                pulse=beat_of(bar.meter),
                key=sheet.bars[bar.sheet_index].key,
                changes=changes,
                feel=(section_feels or {}).get(bar.section, feel),
                is_solo=bar.kind == "solo",
                fullness=_fullness(bar, first=_first_passage(played, index)),
                opens_section=bar.starts_section
                or (bar.kind in ("intro", "tag") and bar.kind != _kind(played, index)),
            )
        )
    return _with_fills(_with_ending(with_pedals(chart)))


def with_pedals(chart: Sequence[ChartBar]) -> list[ChartBar]:
    """Mark the changes under which the bass stays on one note."""
    held = iter(pedal_places([c.symbol for bar in chart for c in bar.changes]))
    return [
        replace(
            bar,
            changes=tuple(replace(c, on_pedal=next(held)) for c in bar.changes),
        )
        for bar in chart
    ]


def _kind(played: Sequence[PerformedBar], index: int) -> str:
    return played[index - 1].kind if index else ""


def _first_passage(played: Sequence[PerformedBar], index: int) -> bool:
    return all(bar.kind in ("intro", "head") for bar in played[: index + 1])


def _fullness(bar: PerformedBar, *, first: bool) -> float:
    # An arranger's curve: a light first head, fuller solos, the tag in full (our numbers).
    if bar.kind in ("intro", "head"):
        return 0.5 if first else 0.75
    return 1.0 if bar.kind == "tag" else 0.9


def _changes(
    sheet: Tune, bar: PerformedBar, end: Fraction, last: ChordSymbol | None
) -> tuple[Change, ...]:
    events = [
        (bar.start + event.onset, _playable(event.symbol))
        for event in sheet.chords_in_force(bar.sheet_index)
        if bar.start + event.onset < end
    ]
    if not events or events[0][0] > bar.start:
        events.insert(0, (bar.start, None))
    stops = [start for start, _ in events[1:]] + [end]
    before = [last] + [symbol for _, symbol in events]
    return tuple(
        Change(start, stop, symbol, symbol != previous)
        for (start, symbol), stop, previous in zip(events, stops, before, strict=False)
    )


def _playable(symbol: ChordSymbol) -> ChordSymbol | None:
    # The kind "other" has a root and no notes that could be played.
    return symbol if symbol.root is not None and symbol.notes else None


def _with_ending(chart: list[ChartBar]) -> list[ChartBar]:
    """Mark the last bar and leave a turnaround out of it."""
    final = chart[-1]
    changes = final.changes
    if len(chart) > 1:
        tonic = chart[-2].changes[0].symbol
        away = changes[-1].symbol
        home = final.key.tonic.pitch_class
        if (
            tonic is not None and tonic.root is not None and away is not None
            and tonic.root.pitch_class == home != _root_class(away)
        ):  # fmt: skip
            changes = (Change(final.start, final.end, tonic, is_new=False),)
    if len(changes) > 1:
        # One chord to end on: the first if it is home, else the last.
        first, *_, last = changes
        chosen = first if _root_class(first.symbol) == final.key.tonic.pitch_class else last
        if chosen is first:
            changes = (replace(first, end=final.end),)
    chart[-1] = replace(final, changes=changes, is_final=True)
    return chart


def _root_class(symbol: ChordSymbol | None) -> int | None:
    return (
        symbol.root.pitch_class if symbol is not None and symbol.root is not None else None
    )


def _with_fills(chart: list[ChartBar]) -> tuple[ChartBar, ...]:
    """Put a fill before each section, a big one before the last."""
    openings = [index for index, bar in enumerate(chart) if bar.opens_section and index]
    filled = list(chart)
    for index in openings:
        size: Literal["small", "big"] = "big" if index == openings[-1] else "small"
        filled[index - 1] = replace(filled[index - 1], fill=size)
    assert all(a.end == b.start for a, b in pairwise(filled))
    return tuple(filled)
