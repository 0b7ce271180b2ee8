"""Which sounds does the melody player make over the whole route?

Symbols become sounds: ties join across bar lines as long as the page goes on there, and
where the route jumps back for a tag, the note is struck again. Pick-ups may start inside
the count-in or the bar before. Pitches stay at concert pitch.

`kit.band._phrasing` then says how each sound is played.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.band.events import PartNote
from kit.route.plan import PerformedBar, Route
from kit.tune.model import Note, Tune
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

    @property
    def end(self) -> Fraction:
        """Where the sound stops."""
        return self.start + self.duration


def melody_line(sheet: Tune, route: Route) -> tuple[MelodyNote, ...]:
    """Give every sound of the melody in order, none overlapping the next."""
    sounds = [note for run in _runs(route.bars) for note in _sounds(sheet, run)]
    sounds.sort(key=lambda note: note.start)
    line: list[MelodyNote] = []
    for index, note in enumerate(sounds):
        stop = note.end
        if index + 1 < len(sounds):
            # A pick-up cuts the note before it short: one player has one voice.
            stop = min(stop, sounds[index + 1].start)
        if stop > note.start:
            line.append(
                MelodyNote(
                    note.start, stop - note.start, note.pitch, note.written, note.key
                )
            )
    return tuple(line)


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


def _sounds(sheet: Tune, run: Sequence[PerformedBar]) -> Iterator[MelodyNote]:
    bars = tuple(sheet.bars[bar.sheet_index] for bar in run)
    for sound in sounding(bars):
        yield MelodyNote(
            run[sound.bar].start + sound.onset,
            sound.duration,
            sound.pitch,
            sound.written,
            bars[sound.bar].key,
        )
