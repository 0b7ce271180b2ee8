"""From sheet, route and feel to everything that sounds: who plays what, and when.

The performance is the same for the same seed. Bars start exactly where the route's map
puts them; swing and human timing only move what lies inside.
"""

from __future__ import annotations

import random
import zlib
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Literal

from kit.band._bass import play_bass
from kit.band._comping import comp
from kit.band._count_in import click, count_in
from kit.band._drums import keep_time
from kit.band._ending import Ending, final_bass, final_chord, final_drums
from kit.band._harmony import HARMONIES, Harmony, arranged, plain_feel
from kit.band._melody import melody_line, melody_part
from kit.band._phrasing import phrase
from kit.band._timing import DRIFT_S, Drift, Timeline, TimelineBar
from kit.band.chart import ChartBar, beat_of, read_chart, swing_unit
from kit.band.events import NoteEvent, PartNote, Performance
from kit.band.feel import Feel, load_feel, with_four_to_the_bar
from kit.band.soloist import Soloist
from kit.band.swing import melody_share, ride_ratio, swing_share
from kit.route.plan import Route
from kit.tune.model import Meter, Tune

__all__ = [
    "A4_RANGE_HZ",
    "CHORD_STYLES",
    "HARMONIES",
    "ChordStyle",
    "Harmony",
    "chart_to_play",
    "chords_to_play",
    "off_beats",
    "perform",
    "seed_of",
    "swing_ratio",
]

ChordStyle = Literal["comping", "four-to-the-bar"]
CHORD_STYLES: tuple[ChordStyle, ...] = ("comping", "four-to-the-bar")
_SLOWEST_QPM, _FASTEST_QPM = 10.0, 999.0
A4_RANGE_HZ = (415.0, 446.0)


def perform(  # noqa: PLR0913 - one performance, all its choices by name
    sheet: Tune,
    route: Route,
    *,
    feel: str = "medium-swing",
    tempo_qpm: float,
    soloist: Soloist,
    solo_sheet: Tune | None = None,
    seed: int = 0,
    section_feels: Mapping[str, str] | None = None,
    humanise: bool = True,
    ending: Ending = "ring",
    chord_style: ChordStyle = "comping",
    harmony: Harmony = "written",
    a4_hz: float = 440.0,
) -> Performance:
    """Play a route.

    Parameters
    ----------
    sheet : Tune
        The level's sheet at concert pitch.
    route : Route
        What is played; not empty.
    feel : str
        One of `kit.band.feel.feel_names`.
    tempo_qpm : float, 10 to 999
        Quarter notes per minute.
    soloist : Soloist
        Who plays the melody.
    solo_sheet : Tune, optional
        What the soloist reads where it is not the sheet itself: the same bars in another
        octave. The band stays as it is.
    seed : int
        The same seed gives the same performance.
    section_feels : mapping of section label to feel name, optional
        Where a section has a feel of its own.
    humanise : bool
        False plays every note exactly on the (swung) grid.
    ending : "ring" or "stop"
        How the last chord ends.
    chord_style : "comping" or "four-to-the-bar"
        A piano (or what the feel has) that comps, or a guitar that keeps time.
    harmony : "plain", "written" or "substituted"
        What the band makes of the changes (`kit.band._harmony`).
    a4_hz : float, 415 to 446
        What the band tunes to.

    Raises
    ------
    ValueError
        If the feel is unknown, the route is empty, or tempo or tuning are out of range.
    """
    if not _SLOWEST_QPM <= tempo_qpm <= _FASTEST_QPM:
        raise ValueError(
            f"a tempo must be 10 to 999 quarter notes a minute, not {tempo_qpm}"
        )
    if not A4_RANGE_HZ[0] <= a4_hz <= A4_RANGE_HZ[1]:
        raise ValueError(f"A4 must be 415 to 446 Hz, not {a4_hz}")
    if chord_style not in CHORD_STYLES:
        raise ValueError(f"no chord style {chord_style!r}; there are {CHORD_STYLES}")
    if harmony not in HARMONIES:
        raise ValueError(f"no harmony {harmony!r}; there are {HARMONIES}")
    if not route.bars:
        raise ValueError("the route has no bars")

    line = melody_line(
        solo_sheet or sheet, route, tempo_qpm=tempo_qpm, breath_s=soloist.breath_s
    )
    # The band hears the sheet, so that it plays the same for every instrument.
    heard = melody_part(melody_line(sheet, route, tempo_qpm=tempo_qpm))
    chart = chart_to_play(
        sheet, route, heard,
        feel=feel, section_feels=section_feels, chord_style=chord_style,
        harmony=harmony, seed=seed,
    )  # fmt: skip
    timeline = _timeline(route, chart, tempo_qpm)

    # A stream of chance for each player: a change in one part leaves the others alone.
    def rng(player: str) -> random.Random:
        return random.Random(f"{seed}/{player}")

    programs = _programs(_as_played(feel, chord_style, harmony))

    def own(player: str) -> Callable[[Fraction], int | None]:
        return _program_at(chart, player, programs[player])

    def drift(player: str) -> Drift | None:
        return Drift(DRIFT_S[player], rng(f"{player} timing")) if humanise else None

    bass = play_bass(chart, rng=rng("bass"))
    bass += final_bass(chart[-1], ending, tempo_qpm, after=bass[-1].midi if bass else None)
    chords = chords_to_play(chart, heard, seed=seed)
    last = tuple(sorted({n.midi for n in chords if chords and n.start == chords[-1].start}))
    chords += final_chord(chart[-1], ending, tempo_qpm, before=last, melody=heard)
    drums = keep_time(chart, rng=rng("drums")) + final_drums(chart[-1])
    bass, chords, drums = (_held(part, route.holds) for part in (bass, chords, drums))
    beat_bpm = tempo_qpm / float(beat_of(chart[0].meter, chart[0].feel))
    sticks = count_in(route.count_in, tempo_qpm=tempo_qpm, uneven=chart[0].uneven)
    events = [
        *phrase(line, timeline, tempo_bpm=beat_bpm, drift=drift("melody"), soloist=soloist),
        *_played("bass", bass, timeline, drift("bass"), own("bass")),
        *_played("chords", chords, timeline, drift("chords"), own("chords")),
        *_played("drums", drums, timeline, drift("drums"), own("drums")),
        *_played("count", sticks, timeline, None),
        *_played("click", _held(click(chart), route.holds), timeline, None),
    ]
    return Performance(
        tuple(events),
        seconds=route.second_at(route.end, tempo_qpm),
        music_start_s=route.second_at(route.music_start, tempo_qpm),
        programs={
            "melody": soloist.program,
            **programs,
            "count": 0,
            "click": 0,
        },
        tempo_qpm=tempo_qpm,
        meter=sheet.meter,
        tempo_map=route.tempo_map,
        a4_hz=a4_hz,
    )


def _as_played(name: str, chord_style: ChordStyle, harmony: Harmony) -> Feel:
    loaded = load_feel(name)
    loaded = plain_feel(loaded) if harmony == "plain" else loaded
    return loaded if chord_style == "comping" else with_four_to_the_bar(loaded)


def chart_to_play(
    sheet: Tune,
    route: Route,
    heard: Sequence[PartNote],
    *,
    feel: str,
    section_feels: Mapping[str, str] | None = None,
    chord_style: ChordStyle = "comping",
    harmony: Harmony = "written",
    seed: int = 0,
) -> tuple[ChartBar, ...]:
    """Write the chart that the band plays from beside the melody it hears.

    Parameters and errors are those of `perform`; `heard` is the melody as performed.
    """
    others = {
        label: _as_played(name, chord_style, harmony)
        for label, name in (section_feels or {}).items()
    }
    chart = read_chart(
        sheet,
        route,
        feel=_as_played(feel, chord_style, harmony),
        section_feels=others,
        melody=heard,
    )
    return arranged(chart, harmony, heard, seed=str(seed))


def chords_to_play(
    chart: Sequence[ChartBar], heard: Sequence[PartNote], *, seed: int = 0
) -> list[PartNote]:
    """Write what the chord player plays of a chart, up to the last chord."""
    return comp(chart, heard, rng=random.Random(f"{seed}/chords"))


def _programs(feel: Feel) -> dict[str, int]:
    return {
        "bass": feel.bass_program,
        "chords": feel.chord_program,
        "drums": feel.kit_program,
    }


def _program_at(
    chart: Sequence[ChartBar], player: str, usual: int
) -> Callable[[Fraction], int | None]:
    """Give the program or kit of the feel at a position, None where it is the usual one."""
    starts = [bar.start for bar in chart]
    found = [_programs(bar.feel)[player] for bar in chart]

    def at(position: Fraction) -> int | None:
        program = found[max(0, bisect_right(starts, position) - 1)]
        return program if program != usual else None

    return at


def seed_of(sheet: Tune) -> int:
    """Give a tune's own seed, so that different tunes are accompanied differently.

    It comes from what of a tune stays when a slip is mended: title, composer, meter and
    number of bars, and no note, chord or key. So a changed note leaves the band and the
    loops of other bars as they were, and another key is the same arrangement.
    """
    said = (sheet.title, sheet.composer, str(sheet.meter), len(sheet.bars))
    return zlib.crc32(repr(said).encode())


def swing_ratio(feel: Feel, tempo_bpm: float) -> float:
    """Give the ride cymbal's swing ratio in a feel at a tempo in beats per minute.

    Parameters
    ----------
    feel : Feel
        Says how its eighths are played.
    tempo_bpm : float > 0
        Beats per minute; counts only where the feel swings by tempo.

    Returns
    -------
    float
        Long eighth over short one: 1 straight, 1.5 light, 2 as triplets, to 3.5 by tempo.

    Raises
    ------
    ValueError
        If the feel swings by tempo and the tempo is not above zero.
    """
    ratios: Mapping[str, Callable[[float], float]] = {
        "straight": lambda _: 1.0,
        "triplet": lambda _: 2.0,
        "light": lambda _: 1.5,
        "by-tempo": ride_ratio,
    }
    return ratios[feel.swing](tempo_bpm)


def off_beats(
    feel: Feel, tempo_qpm: float, meter: Meter, *, doubled: bool = False
) -> tuple[float, float]:
    """Say where the off-beats of the band and of the melody player fall.

    Parameters
    ----------
    feel : Feel
        Of the bar.
    tempo_qpm : float
        Quarter notes a minute.
    meter : Meter
        In which three eighths to a beat and uneven groups are even.
    doubled : bool
        Whether the bar is played in double time: its half beats swing as beats of twice
        the tempo do.

    Returns
    -------
    (float, float)
        Shares of the `kit.band.chart.swing_unit`, 0.5 where nothing swings.
    """
    if not feel.is_swung or beat_of(meter, feel) != 1:
        return 0.5, 0.5
    tempo_bpm = tempo_qpm / float(swing_unit(meter, feel, doubled=doubled))
    share = swing_share(swing_ratio(feel, tempo_bpm))
    return share, melody_share(share, tempo_bpm)


def _timeline(route: Route, chart: Sequence[ChartBar], tempo_qpm: float) -> Timeline:
    # The count-in swings like the first bar: a pick-up may lie over it.
    feel = chart[0].feel
    bars = [_timeline_bar(feel, tempo_qpm, bar.start, bar.meter) for bar in route.count_in]
    # Without a count-in a pick-up before the first bar still needs a bar to lie in.
    if not bars and chart[0].start > route.bars[0].start:
        bars.append(_timeline_bar(feel, tempo_qpm, chart[0].start - 64, chart[0].meter))
    bars += [
        _timeline_bar(
            bar.feel, tempo_qpm, bar.start, bar.meter, doubled=bar.band == "double-time"
        )
        for bar in chart
    ]
    return Timeline(bars, tempo_qpm, route.tempo_map)


def _timeline_bar(
    feel: Feel, tempo_qpm: float, start: Fraction, meter: Meter, *, doubled: bool = False
) -> TimelineBar:
    shares = off_beats(feel, tempo_qpm, meter, doubled=doubled)
    unit = swing_unit(meter, feel, doubled=doubled)
    return TimelineBar(start, beat_of(meter, feel), *shares, unit)


def _held(
    notes: Sequence[PartNote], holds: Sequence[tuple[Fraction, Fraction]]
) -> list[PartNote]:
    """Hold what sounds when a fermata begins to its end, and begin nothing within it."""
    kept = list(notes)
    for start, end in holds:
        kept = [
            replace(note, duration=max(note.end, end) - note.start)
            if note.start <= start < note.end
            else note
            for note in kept
            if not start < note.start < end
        ]
    return kept


def _played(
    player: str,
    notes: Sequence[PartNote],
    timeline: Timeline,
    drift: Drift | None,
    program_at: Callable[[Fraction], int | None] = lambda _: None,
) -> list[NoteEvent]:
    """Time a part; notes struck together share one error, and no key is struck twice."""
    events: list[NoteEvent] = []
    errors = {
        start: drift.next_s() if drift is not None else 0.0
        for start in sorted({note.start for note in notes})
    }
    free_at: dict[int, int] = {}
    for note in sorted(notes, key=lambda note: (note.start, note.midi)):
        start = max(0.0, timeline.seconds(note.start) + errors[note.start])
        stop = max(start + 0.03, timeline.seconds(note.end) + errors[note.start])
        if note.midi in free_at:
            earlier = events[free_at[note.midi]]
            if earlier.end_s > start:
                length = max(0.01, start - earlier.start_s)
                events[free_at[note.midi]] = replace(earlier, duration_s=length)
        free_at[note.midi] = len(events)
        program = program_at(note.start)
        events.append(
            NoteEvent(
                player, note.midi, start, stop - start, note.velocity, program=program
            )
        )
    return events
