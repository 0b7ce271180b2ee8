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

from kit.band._arc import choruses, intensities
from kit.band._felt import clave_shift, is_uneven, uneven_groups
from kit.band._pedal import pedal_places
from kit.band.events import PartNote
from kit.band.feel import Feel, beat_groups
from kit.route.bands import BarBand
from kit.route.plan import PerformedBar, Route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Meter, Tune
from kit.tune.pitch import Key

__all__ = ["Change", "ChartBar", "beat_of", "read_chart", "swing_unit", "with_pedals"]


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
    `place` counts the bars from the top of the form, so that figures of several bars go on
    through the whole piece. `uneven` are the groups of eighths of a meter such as 7/8,
    whose pulse is the eighth; it is empty in all others. `band` says who plays; `is_open`
    that a soloist makes up what is played. In double time the pulse is half the beat.
    """

    start: Fraction
    length: Fraction
    pulse: Fraction
    meter: Meter
    key: Key
    changes: tuple[Change, ...]
    feel: Feel
    is_solo: bool
    fullness: float
    opens_section: bool
    fill: Literal["", "small", "big"] = ""
    is_final: bool = False
    place: int = 0
    uneven: tuple[int, ...] = ()
    band: BarBand = "full"
    is_open: bool = False

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
    def is_uneven(self) -> bool:
        """Whether it is felt in groups of two and three eighths."""
        return bool(self.uneven)

    @property
    def groups(self) -> tuple[int, ...]:
        """The groups of pulses for which feels have patterns."""
        return self.uneven or beat_groups(self.beats)

    @property
    def felt_starts(self) -> tuple[Fraction, ...]:
        """Where its felt beats begin: those of its groups where it is uneven."""
        if not self.uneven:
            return tuple(self.start + beat * self.pulse for beat in range(self.beats))
        places = [sum(self.uneven[:index]) for index in range(len(self.uneven))]
        starts = (self.start + place * self.pulse for place in places)
        return tuple(start for start in starts if start < self.end)

    @property
    def is_closer(self) -> bool:
        """Whether a feel's figure of four beats is played in its two."""
        return self.feel.cut and self.beats == 2

    @property
    def lead(self) -> Fraction:
        """How long before a change a chord may anticipate it; 0 where none does."""
        if not self.feel.anticipates:
            return Fraction(0)
        return self.pulse / (4 if self.is_closer else 2)

    @property
    def hold_until(self) -> Fraction:
        """Where chords and bass let go: where singers breathe, before the bar's end."""
        ends_phrase = self.feel.breathes and self.fill
        return self.end - self.pulse / 2 if ends_phrase else self.end

    def moment(self, beat: Fraction) -> Fraction:
        """Turn a place in a feel's pattern, counted from the bar line, into a position.

        Where the beat is divided in three, its halves and quarters are swung to thirds.
        """
        whole, part = divmod(beat, 1)
        if self.pulse.numerator % 3 == 0 and part.denominator in (2, 4, 8):
            third = Fraction(1, 3)
            part = 4 * third * part if 2 * part <= 1 else 2 * third + third * (2 * part - 1)
        return self.start + (whole + part) * self.pulse

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


def beat_of(meter: Meter, feel: Feel | None = None) -> Fraction:
    """Give the beat the band feels, in quarter notes.

    A quarter note in 4/4, a half in 2/2, a dotted quarter in 6/8, the written unit in 3/8
    or 5/8. Who walks or swings eighths counts quarters in 2/2 too.
    """
    beat = meter.pulse
    if feel is not None and feel.is_swung and not meter.is_compound:
        return min(beat, Fraction(1))
    return beat


def swing_unit(meter: Meter, feel: Feel, *, doubled: bool = False) -> Fraction:
    """Give the note of which a swung feel makes a long half and a short one, in quarters.

    A quarter; an eighth where sixteenths swing, as they do in 2/4 in a dance that other
    tunes write in twice as long notes; half of that in double time (`doubled`).
    """
    closer = feel.cut and (meter.beats, meter.beat_type) == (2, 4)
    unit = Fraction(1, 2) if feel.sixteenths or closer else Fraction(1)
    return unit / 2 if doubled else unit


def read_chart(
    sheet: Tune,
    route: Route,
    *,
    feel: Feel,
    section_feels: Mapping[str, Feel] | None = None,
    melody: Sequence[PartNote] = (),
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
    melody : sequence of PartNote
        As performed, in order: the band plays up to a written solo that is busy.
    """
    played = [bar for bar in route.bars if not bar.is_pickup] or list(route.bars)
    # The figure begins with the form: before it an intro counts backwards.
    top = next((i for i, bar in enumerate(played) if bar.kind != "intro"), 0)
    every = (feel, *(section_feels or {}).values())
    top += clave_shift(sheet, played, next((f for f in every if f.clave), feel))
    ends = [bar.start for bar in played[1:]] + [max(played[-1].end, route.end)]
    chart: list[ChartBar] = []
    last: ChordSymbol | None = None
    levels = intensities(played, melody)
    for index, (bar, end) in enumerate(zip(played, ends, strict=True)):
        changes = _changes(sheet, bar, end, last)
        last = changes[-1].symbol
        own = (section_feels or {}).get(bar.section, feel)
        chart.append(
            ChartBar(
                start=bar.start,
                length=end - bar.start,
                pulse=_pulse(bar, own),
                meter=bar.meter,
                key=sheet.bars[bar.sheet_index].key,
                changes=changes,
                feel=own,
                is_solo=bar.kind == "solo",
                fullness=levels[index],
                opens_section=bar.starts_section
                or (bar.kind in ("intro", "tag") and bar.kind != _kind(played, index)),
                place=index - top,
                uneven=uneven_groups(sheet, bar.meter) if is_uneven(bar.meter) else (),
                band=bar.band,
                is_open=not bar.melody and bar.kind != "intro",
            )
        )
    return _with_fills(_with_ending(with_pedals(chart)), choruses(played))


def _pulse(bar: PerformedBar, feel: Feel) -> Fraction:
    """Give the beat the band plays in: in double time half of the one it is felt in."""
    beat = beat_of(bar.meter, feel)
    if bar.band != "double-time":
        return beat
    # Half of what a feel's figure of four beats takes in such a bar already.
    return beat / (4 if feel.cut and bar.length == 2 * beat else 2)


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
    # Whatever the band did, all strike the last chord.
    beat = beat_of(final.meter, final.feel)
    chart[-1] = replace(final, changes=changes, is_final=True, band="full", pulse=beat)
    return chart


def _root_class(symbol: ChordSymbol | None) -> int | None:
    return (
        symbol.root.pitch_class if symbol is not None and symbol.root is not None else None
    )


def _with_fills(chart: list[ChartBar], numbers: Sequence[int]) -> tuple[ChartBar, ...]:
    """Put a fill before each section, a big one before a chorus and the last section."""
    openings = [index for index, bar in enumerate(chart) if bar.opens_section and index]
    filled = list(chart)
    for index in openings:
        is_big = index == openings[-1] or numbers[index] != numbers[index - 1]
        size: Literal["small", "big"] = "big" if is_big else "small"
        filled[index - 1] = replace(filled[index - 1], fill=size)
    assert all(a.end == b.start for a, b in pairwise(filled))
    return tuple(filled)
