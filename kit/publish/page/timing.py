"""When does each bar and note light up on the page?

Bars light on the bar-to-second map that audio and chapters share. Notes light where the
melody player puts them: off-beats are swung as the feel of their section has it at the
level's tempo. (The player's small human error, some milliseconds, is left out.)

Conventions: seconds on the audio's own clock; notes as parts of their bar, 0 to 1.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from kit.band.chart import beat_of, swing_unit
from kit.band.feel import load_feel
from kit.band.perform import off_beats
from kit.band.swing import warp
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.route.plan import PerformedBar
from kit.route.timing import timing_map
from kit.tracks.rendition import rendition
from kit.tune.model import Bar

__all__ = ["click_rows", "note_spans", "route_rows"]

NoteSpan = tuple[int, float, float]
_HIGH_CLICK = 76
"""High wood block (General MIDI level 1): the first beat of a bar."""


def route_rows(level: Level) -> list[list[Any]]:
    """Give one row for each performed bar, as ``assets/clock.js`` reads it.

    Returns
    -------
    list of list
        Start and end in seconds, sheet index, form index, printed number, section, kind,
        whether a passage begins here, whether the sheet's notes are played, how many
        beats it has.
    """
    entries = timing_map(level.route, level.tempo_qpm)["bars"]
    feel = load_feel(level.settings.feel)
    rows: list[list[Any]] = []
    before: PerformedBar | None = None
    for bar, entry in zip(level.route.bars, entries, strict=True):
        rows.append(
            [
                entry["start"], entry["end"], bar.sheet_index, bar.form_index, bar.number,
                bar.section, bar.kind, int(_begins(bar, before)), int(bar.melody),
                float(bar.length / beat_of(bar.meter, feel)),
            ]
        )  # fmt: skip
        before = bar
    return rows


def click_rows(lesson: Lesson, level: str) -> list[tuple[float, int]]:
    """Give the beats of the music as the band's metronome has them.

    Returns
    -------
    list of (float, int)
        The second of each beat, and 1 for the first of a bar, else 0.
    """
    beats = rendition(lesson, level).perform().of("click")
    return [(round(beat.start_s, 5), int(beat.midi == _HIGH_CLICK)) for beat in beats]


def _begins(bar: PerformedBar, before: PerformedBar | None) -> bool:
    """Say whether a new stretch of the performance begins with this bar."""
    if before is None or bar.kind != before.kind or bar.is_pickup:
        return True
    if bar.kind == "tag":
        return bar.sheet_index <= before.sheet_index
    return bar.starts_section and not before.is_pickup


def note_spans(level: Level, *, tempo_percent: int = 100) -> list[list[NoteSpan]]:
    """Give each bar's notes as (position, start, end), rests left out.

    Parameters
    ----------
    level : Level
        The level.
    tempo_percent : int > 0
        Of the level's tempo: the slower a swing is played, the later its off-beats come.
    """
    tempo_qpm = level.tempo_qpm * tempo_percent / 100
    # A bar played both ways lights as the last time it is played.
    sections = {bar.sheet_index: bar.section for bar in level.route.bars}
    doubled = {bar.sheet_index: bar.band == "double-time" for bar in level.route.bars}
    feels = dict(level.settings.band.section_feels)
    spans: list[list[NoteSpan]] = []
    for index, bar in enumerate(level.sheet.bars):
        feel = load_feel(feels.get(sections.get(index, ""), level.settings.feel))
        fast = doubled.get(index, False)
        _, share = off_beats(feel, tempo_qpm, bar.meter, doubled=fast)
        unit = swing_unit(bar.meter, feel, doubled=fast)
        spans.append(
            [
                (
                    position,
                    _part(bar, note.onset, share, unit),
                    _part(bar, note.end, share, unit),
                )
                for position, note in enumerate(bar.notes)
                if not note.is_rest
            ]
        )
    return spans


def _part(bar: Bar, moment: Fraction, share: float, unit: Fraction) -> float:
    """Turn a moment of a bar into a part of it, swung."""
    if bar.meter.is_compound:
        return round(float(moment / bar.length), 4)
    # A pick-up takes the last beats of its bar: they are counted from the bar's end.
    lead = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    units, place = divmod((moment + lead) / unit, 1)
    swung = float(units * unit) + float(unit) * warp(place, share)
    return round((swung - float(lead)) / float(bar.length), 4)
