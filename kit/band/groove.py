"""What in a tune gets into the band's way: notes that chords rub against, a turned clave?

What is measured is what the band would play, so that nothing is said of a chord which the
pianist lays out around the melody anyway.

Conventions: seconds from the first click, as in `kit.band.events`; played without human
timing and without swing, which move no note by more than a part of a beat.

Source: common practice. A semitone under the melody muddies it, a semitone or minor ninth
above it is the clash every handbook of arranging warns of; a clave never turns round.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from kit.band._melody import MelodyNote, melody_line, melody_part
from kit.band.chart import ChartBar
from kit.band.events import NoteEvent, PartNote
from kit.band.perform import (
    ChordStyle,
    Harmony,
    chart_to_play,
    chords_to_play,
    seed_of,
)
from kit.route.plan import PerformedBar, Route
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune

__all__ = [
    "HEARD_TOGETHER_S",
    "ClaveTurn",
    "Comping",
    "Rub",
    "clave_turn",
    "comping",
    "rubs",
]

HEARD_TOGETHER_S = 0.12
"""Shorter it is a passing note, and nobody hears a chord with it."""


@dataclass(frozen=True, slots=True)
class Rub:
    """A chord note and a melody note that rub.

    `melody` and `chord` are places in what was compared. `is_above` says that the chord's
    note is the upper one.
    """

    melody: int
    chord: int
    is_above: bool
    together_s: float


@dataclass(frozen=True, slots=True)
class Comping:
    """What the chord player strikes beside the melody; `chart` is what it is read from."""

    chart: tuple[ChartBar, ...]
    line: tuple[MelodyNote, ...]
    chords: tuple[PartNote, ...]
    route: Route
    tempo_qpm: float

    def rubs(self) -> Iterator[Rub]:
        """Yield where the two rub, as places in `line` and `chords`."""
        melody = [
            self._event("melody", note.start, note.end, note.pitch.midi)
            for note in self.line
        ]
        chords = [
            self._event("chords", note.start, note.end, note.midi) for note in self.chords
        ]
        return rubs(melody, chords)

    def symbol_of(self, chord: int) -> ChordSymbol | None:
        """Give the symbol that a struck note belongs to: the one in force as it ends.

        A note struck ahead of a change is of the chord that comes.
        """
        end = self.chords[chord].end
        place = bisect_right([bar.start for bar in self.chart], end) - 1
        if self.chart[place].start == end and place:
            place -= 1
        changes = [change for change in self.chart[place].changes if change.start < end]
        return changes[-1].symbol if changes else None

    def _event(self, player: str, start: Fraction, end: Fraction, midi: int) -> NoteEvent:
        start_s = self.route.second_at(start, self.tempo_qpm)
        end_s = self.route.second_at(end, self.tempo_qpm)
        return NoteEvent(player, midi, start_s, end_s - start_s, velocity=64)


@dataclass(frozen=True, slots=True)
class ClaveTurn:
    """A bar of the tune that is heard with both sides of the clave.

    `bar` is its place in the route's full bars when it is first heard with the other side,
    `after` how many bars lie between, `more` how many other bars of the tune are concerned.
    """

    bar: int
    after: int
    more: int


def rubs(melody: Sequence[NoteEvent], chords: Sequence[NoteEvent]) -> Iterator[Rub]:
    """Yield where chord notes rub against the melody for a while.

    Parameters
    ----------
    melody : sequence of NoteEvent
        One voice, in order.
    chords : sequence of NoteEvent
        In any order.

    Yields
    ------
    Rub
        A chord note a semitone, or octaves and a semitone, under the melody, or a semitone
        or minor ninth above it, for `HEARD_TOGETHER_S` or longer.
    """
    starts = [note.start_s for note in melody]
    for place, chord in enumerate(chords):
        # The melody is one voice: few of its notes lie over a chord's.
        first = max(0, bisect_right(starts, chord.start_s) - 2)
        for index in range(first, bisect_right(starts, chord.end_s)):
            tune = melody[index]
            together = min(tune.end_s, chord.end_s) - max(tune.start_s, chord.start_s)
            apart = chord.midi - tune.midi
            rub = apart % 12 == (1 if apart > 0 else 11) and apart != 0
            if rub and together >= HEARD_TOGETHER_S:
                yield Rub(index, place, apart > 0, together)


@lru_cache(maxsize=8)
def comping(
    sheet: Tune,
    route: Route,
    *,
    feel: str,
    tempo_qpm: float,
    section_feels: tuple[tuple[str, str], ...] = (),
    chord_style: ChordStyle = "comping",
    harmony: Harmony = "written",
) -> Comping:
    """Let the chord player alone play a route, as `kit.band.perform.perform` would.

    The last few are remembered.

    Parameters
    ----------
    sheet, route, feel, tempo_qpm, chord_style, harmony
        As for `kit.band.perform.perform`.
    section_feels : tuple of (label, feel)
        Sections with a feel of their own.

    Raises
    ------
    ValueError
        If a feel is unknown.
    """
    line = melody_line(sheet, route, tempo_qpm=tempo_qpm)
    heard, seed = melody_part(line), seed_of(sheet)
    chart = chart_to_play(
        sheet, route, heard,
        feel=feel, section_feels=dict(section_feels), chord_style=chord_style,
        harmony=harmony, seed=seed,
    )  # fmt: skip
    chords = chords_to_play(chart, heard, seed=seed)
    return Comping(chart, tuple(line), tuple(chords), route, tempo_qpm)


def clave_turn(chart: Sequence[ChartBar], route: Route) -> ClaveTurn | None:
    """Say where a clave comes to lie the other way round under the same notes.

    The figure itself goes on; where a form or a section has an odd number of bars, it is
    the melody that comes back on its other side.

    Parameters
    ----------
    chart : sequence of ChartBar
        As read from the route.
    route : Route
        Its full bars go with the chart's.

    Returns
    -------
    ClaveTurn or None
        The first such bar; None where there is no clave or it lies well.
    """
    played = [bar for bar in route.bars if not bar.is_pickup] or list(route.bars)
    first: dict[tuple[str | int, ...], int] = {}
    turned: dict[int, ClaveTurn] = {}
    for index, (bar, keys) in enumerate(zip(chart, _same_bars(played), strict=True)):
        if not bar.feel.clave or played[index].kind == "intro":
            continue
        for key in keys:
            before = first.setdefault(key, index)
            # Places count the bars of the figure.
            if (bar.place - chart[before].place) % 2:
                turn = ClaveTurn(index, index - before, 0)
                turned.setdefault(played[index].form_index, turn)
    if not turned:
        return None
    (found, *others) = turned.values()
    return ClaveTurn(found.bar, found.after, len(others))


def _same_bars(
    played: Sequence[PerformedBar],
) -> Iterator[tuple[tuple[str | int, ...], ...]]:
    """Say what makes bars the same: their place in the form, and in a section of a name."""
    inside = 0
    for bar in played:
        inside = 0 if bar.starts_section else inside + 1
        form: tuple[str | int, ...] = ("form", bar.form_index)
        # A tag begins where it likes.
        section: tuple[str | int, ...] = ("section", bar.section, inside)
        yield (form,) if bar.kind == "tag" else (form, section)
