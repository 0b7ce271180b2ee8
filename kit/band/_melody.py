"""Which sounds does the melody player make over the whole route?

Symbols become sounds: ties join across bar lines as long as the page goes on there, and
where the route jumps back for a tag, the note is struck again. Pick-ups may start inside
the count-in or the bar before. Pitches stay at concert pitch. Each sound knows its place
under a slur, the dynamics of the page while it lasts, and whether a breath is taken behind
it; `kit.band._phrasing` then says how it is played.

Source: under a slur only the first note is tongued; where slurs stand within a phrase mark,
they say what is tongued (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import accumulate

from kit.band._dynamics import Dynamics, page_starts, read_dynamics
from kit.band.events import PartNote
from kit.instruments.breathing import BREATH_MARKS, BlownNote, breaths_in, phrases_of
from kit.route.plan import PerformedBar, Route
from kit.tune.model import Bar, Note, Tune
from kit.tune.pitch import Key, Pitch
from kit.tune.sounding import sounding

__all__ = ["MelodyNote", "melody_line", "melody_part"]


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """One sound of the melody, in quarter notes from the first click."""

    start: Fraction
    duration: Fraction
    pitch: Pitch
    written: Note
    key: Key
    marks: frozenset[str] = frozenset()
    # Slurred to the sound before, and on to the next.
    joined: bool = False
    joins: bool = False
    # Corners of (quarters from its start, decibels against mf), and an sfz or its like.
    dynamics: tuple[tuple[Fraction, float], ...] = ()
    struck: bool = False
    breath: bool = False
    # Where its bar ends, and whether that bar is the second of two.
    bar_end: Fraction = Fraction(0)
    ends_pair: bool = False

    @property
    def end(self) -> Fraction:
        """Where the sound stops."""
        return self.start + self.duration


def melody_line(
    sheet: Tune, route: Route, *, tempo_qpm: float, breath_s: float | None = None
) -> tuple[MelodyNote, ...]:
    """Give every sound of the melody in order, none overlapping the next.

    Parameters
    ----------
    sheet : Tune
        What is read.
    route : Route
        Which of its bars are played.
    tempo_qpm : float > 0
        Quarter notes a minute, which decides how far a breath carries.
    breath_s : float, optional
        How long the player's breath lasts; without it only written breaths are taken.
    """
    dynamics = read_dynamics(sheet.bars)
    on_page = page_starts(sheet.bars)
    sounds = [
        note for run in _runs(route.bars) for note in _sounds(sheet, run, dynamics, on_page)
    ]
    sounds.sort(key=lambda note: note.start)
    line: list[MelodyNote] = []
    for index, note in enumerate(sounds):
        stop = note.end
        if index + 1 < len(sounds):
            # A pick-up cuts the note before it short: one player has one voice.
            stop = min(stop, sounds[index + 1].start)
        if stop > note.start:
            line.append(replace(note, duration=stop - note.start))
    return _breathing(_whole_slurs(line), tempo_qpm, breath_s)


def _whole_slurs(line: Sequence[MelodyNote]) -> list[MelodyNote]:
    """Let a slur join only what follows at once, and not a pitch to itself."""
    joined = [False] * len(line)
    for place in range(1, len(line)):
        before, note = line[place - 1], line[place]
        # The same pitch twice under a slur is portato: tongued, but hardly let go.
        joined[place] = (
            note.joined
            and before.end == note.start
            and before.pitch.midi != note.pitch.midi
        )
    return [
        replace(note, joined=joined[place], joins=joined[place + 1 : place + 2] == [True])
        for place, note in enumerate(line)
    ]


def _breathing(
    line: Sequence[MelodyNote], tempo_qpm: float, breath_s: float | None
) -> tuple[MelodyNote, ...]:
    """Mark the sounds behind which a breath is taken."""
    blown = [
        BlownNote(
            note.start,
            note.end,
            marked=not BREATH_MARKS.isdisjoint(note.marks),
            ends_bar=note.end == note.bar_end,
            ends_pair=note.ends_pair,
        )
        for note in line
    ]
    places = {place for place, note in enumerate(blown) if note.marked}
    if breath_s is not None:
        for phrase in phrases_of(blown, tempo_qpm):
            places.update(breaths_in(blown, phrase, breath_s * tempo_qpm / 60))
    return tuple(replace(note, breath=place in places) for place, note in enumerate(line))


def melody_part(line: Sequence[MelodyNote]) -> list[PartNote]:
    """Give the melody as the rhythm section hears it."""
    return [PartNote(note.start, note.duration, note.pitch.midi, 90) for note in line]


def _runs(bars: Sequence[PerformedBar]) -> Iterator[list[PerformedBar]]:
    """Split the played bars where the melody rests or the page is left by a jump."""
    run: list[PerformedBar] = []
    for bar in bars:
        if not bar.melody:
            if run:
                yield run
            run = []
            continue
        if run and _is_jump(run[-1], bar):
            yield run
            run = []
        run.append(bar)
    if run:
        yield run


def _is_jump(before: PerformedBar, bar: PerformedBar) -> bool:
    on_the_page = bar.sheet_index == before.sheet_index + 1
    # Over a repeat sign the form goes on although the page turns back.
    in_the_form = bar.form_index == before.form_index + 1
    return not (on_the_page or in_the_form)


def _sounds(
    sheet: Tune,
    run: Sequence[PerformedBar],
    dynamics: Dynamics,
    on_page: Sequence[Fraction],
) -> Iterator[MelodyNote]:
    bars = tuple(sheet.bars[bar.sheet_index] for bar in run)
    slurred = _slurred(bars)
    full = list(accumulate(not bar.pickup for bar in bars))
    for sound in sounding(bars):
        page = on_page[run[sound.bar].sheet_index] + sound.onset
        end = run[sound.bar].start + sound.onset + sound.duration
        last = next(
            (place for place in range(sound.bar, len(run)) if run[place].end >= end),
            len(run) - 1,
        )
        yield MelodyNote(
            run[sound.bar].start + sound.onset,
            sound.duration,
            sound.pitch,
            sound.written,
            bars[sound.bar].key,
            marks=frozenset((*sound.written.marks, *sound.closing.marks)),
            joined=(sound.bar, sound.position) in slurred,
            dynamics=dynamics.over(page, page + sound.duration),
            struck=page in dynamics.struck,
            bar_end=run[last].end,
            ends_pair=full[last] % 2 == 0 and not bars[last].pickup,
        )


def _slurred(bars: Sequence[Bar]) -> frozenset[tuple[int, int]]:
    """Give the symbols that a slur joins to the one before them."""
    found: set[tuple[int, int]] = set()
    open_slurs = 0
    for index, bar in enumerate(bars):
        for position, note in enumerate(bar.notes):
            if note.is_rest:
                continue
            # A slur that begins under another one is tongued, unless one ends there too.
            begins_inner = note.slurs_started > 0 and note.slurs_ended == 0
            if open_slurs > 0 and not begins_inner:
                found.add((index, position))
            open_slurs = max(0, open_slurs + note.slurs_started - note.slurs_ended)
    return frozenset(found)
