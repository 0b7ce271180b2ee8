"""How does the demo soloist play each sound: when, how long, how loud?

* In swing, downbeats come a little late and off-beats with the cymbal (`kit.band.swing`).
* Length follows the marks, else the note: eighths are joined, quarters a little short,
  long notes leave room to breathe before the next phrase.
* The top of a phrase and off-beats before a rest are leaned on; ghost notes drop back.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from kit.band._melody import MelodyNote
from kit.band._ornaments import GRACE_S, bend_curve, ornament, vibrato
from kit.band._timing import Drift, Timeline
from kit.band.events import NoteEvent
from kit.band.swing import melody_delay_s

__all__ = ["phrase"]

_SHORTEST_S = 0.04


def phrase(
    line: Sequence[MelodyNote],
    timeline: Timeline,
    *,
    tempo_bpm: float,
    drift: Drift | None,
) -> list[NoteEvent]:
    """Play the melody.

    Parameters
    ----------
    line : sequence of MelodyNote
        In order, not overlapping.
    timeline : Timeline
        Positions to seconds.
    tempo_bpm : float > 0
        Beats a minute, for the soloist's delay.
    drift : Drift or None
        Human error; None plays exactly on the grid, without the delay.
    """
    starts = [_start_s(note, timeline, tempo_bpm, drift) for note in line]
    events: list[NoteEvent] = []
    for index, note in enumerate(line):
        start = starts[index]
        stop = timeline.seconds(note.end, soloist=True)
        follows = line[index + 1] if index + 1 < len(line) else None
        joined = follows is not None and follows.start == note.end
        if joined:
            # Grace notes take their time from the note before; the main one is not moved.
            stop = starts[index + 1] - _grace_room(line[index + 1])
        length = max(_SHORTEST_S, (stop - start) * _held(note, joined=joined))
        velocity = _velocity(line, index, timeline)
        events.extend(_graces(note, start, velocity, events))
        events.extend(_played(note, start, length, velocity))
    return _one_voice(events)


def _start_s(
    note: MelodyNote, timeline: Timeline, tempo_bpm: float, drift: Drift | None
) -> float:
    start = timeline.seconds(note.start, soloist=True)
    if drift is None:
        return max(0.0, start)
    if timeline.on_beat(note.start) and timeline.swings(note.start):
        start += melody_delay_s(tempo_bpm)
    return max(0.0, start + drift.next_s())


def _grace_room(note: MelodyNote) -> float:
    return GRACE_S * len(note.written.graces)


def _held(note: MelodyNote, *, joined: bool) -> float:
    marks = note.written.marks
    if "staccato" in marks:
        return 0.45
    # In jazz the hat is short as well as loud (common practice).
    if "strong-accent" in marks:
        return 0.6
    if "tenuto" in marks or note.written.slurs_started or not joined:
        return 0.97 if joined else 0.9
    if note.duration < 1:
        return 0.97
    return 0.85 if note.duration == 1 else 0.94


def _velocity(line: Sequence[MelodyNote], index: int, timeline: Timeline) -> int:
    note = line[index]
    marks = note.written.marks
    before = line[index - 1] if index else None
    after = line[index + 1] if index + 1 < len(line) else None
    level = 88
    if before is not None and after is not None:
        is_top = before.pitch < note.pitch and after.pitch < note.pitch
        level += 6 if is_top else 0
    if not timeline.on_beat(note.start):
        ends_phrase = after is None or after.start > note.end
        level += 5 if ends_phrase or note.duration > Fraction(1, 2) else -4
    level += 14 if "accent" in marks else 0
    level += 18 if "strong-accent" in marks else 0
    level -= 34 if "ghost" in marks else 0
    return max(30, min(118, level))


def _graces(
    note: MelodyNote, start: float, velocity: int, before: Sequence[NoteEvent]
) -> list[NoteEvent]:
    graces = note.written.graces
    if not graces:
        return []
    room = start - (before[-1].start_s + _SHORTEST_S if before else 0.0)
    each = min(GRACE_S, room / len(graces))
    # Too short to be heard as a note.
    if each < 0.015:
        return []
    first = start - each * len(graces)
    return [
        NoteEvent("melody", grace.pitch.midi, first + i * each, each * 0.95, velocity - 12)
        for i, grace in enumerate(graces)
    ]


def _played(
    note: MelodyNote, start: float, length: float, velocity: int
) -> list[NoteEvent]:
    marks = note.written.marks
    row = ornament(note.pitch, note.key, marks, length)
    if len(row) == 1:
        bends = bend_curve(marks, length) or vibrato(length)
        return [NoteEvent("melody", note.pitch.midi, start, length, velocity, bends)]
    events: list[NoteEvent] = []
    at = start
    for midi, share in row:
        events.append(NoteEvent("melody", midi, at, share * length * 0.98, velocity))
        at += share * length
    return events


def _one_voice(events: list[NoteEvent]) -> list[NoteEvent]:
    """Let each sound stop where the next begins."""
    ordered = sorted(events, key=lambda event: event.start_s)
    kept: list[NoteEvent] = []
    for index, event in enumerate(ordered):
        length = event.duration_s
        if index + 1 < len(ordered):
            length = min(length, ordered[index + 1].start_s - event.start_s)
        if length > 0.005:
            kept.append(
                NoteEvent(
                    event.player, event.midi, event.start_s, length, event.velocity,
                    tuple(point for point in event.bends if point[0] <= length),
                )
            )  # fmt: skip
    return kept
