"""How does the demo soloist play each sound: when, how long, how loud?

* In swing, downbeats come a little late and off-beats with the cymbal (`kit.band.swing`).
* Length follows slurs and marks (`kit.band._marks`), else the note: eighths are tongued but
  joined, quarters a little short; where a breath is taken, the note before it pays for it.
* Loudness is the page's dynamic, the mark, and the place: the top of a phrase and off-beats
  before a rest are leaned on; in swung runs the off-beats are (they are tongued, the beats
  slurred to them or let fall); in even ones the beats. Of two slurred notes the second is
  lighter.

Source: common practice; jazz articulation leans on off-beats in every big-band handbook
(from memory), two-note slurs are strong and weak since Leopold Mozart, Violinschule (1756),
chapter 7 (from memory). Sizes are our own choice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from kit.band._marks import articulation
from kit.band._melody import MelodyNote
from kit.band._ornaments import GRACE_S, bend_curve, ornament, vibrato
from kit.band._timing import Drift, Timeline
from kit.band.events import NoteEvent
from kit.band.soloist import Soloist
from kit.band.swell import Curve, summed, swell_of
from kit.band.swing import melody_delay_s

__all__ = ["MEZZOFORTE", "phrase"]

MEZZOFORTE = 78
"""Velocity of a plain note; ``ff`` with an accent still finds room above it."""

_SHORTEST_S = 0.04
_TOP_DB = 1.2
_LEAN_DB = 1.5
_EVEN_BEAT_DB = 0.8
_SLURRED_DB = -0.7
_SECOND_OF_TWO_DB = -1.5
_STRUCK_DB = 5.0
_GRACE_DB = -3.0
_BREATH_S = 0.3
_BREATH_SHARE = 0.45
"""A breath takes so much time from the note before it, and of a short one at most half."""
_HELD_OUT = 0.98
_LET_GO = 0.9
_TONGUED = 0.94


def phrase(
    line: Sequence[MelodyNote],
    timeline: Timeline,
    *,
    tempo_bpm: float,
    drift: Drift | None,
    soloist: Soloist,
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
    soloist : Soloist
        Who plays; its vibrato.
    """
    starts = [_start_s(note, timeline, tempo_bpm, drift) for note in line]
    events: list[NoteEvent] = []
    for index, note in enumerate(line):
        start = starts[index]
        stop = timeline.seconds(note.end, soloist=True)
        follows = line[index + 1] if index + 1 < len(line) else None
        meets = follows is not None and follows.start == note.end
        if meets:
            # Grace notes take their time from the note before; the main one is not moved.
            stop = starts[index + 1] - _grace_room(line[index + 1])
        length = max(_SHORTEST_S, _held_s(note, stop - start, meets=meets))
        level_db, swell = _levels(line, index, timeline, start, length)
        graces = _graces(note, start, _velocity(level_db + _GRACE_DB), events)
        events.extend(graces)
        joined = note.joined or bool(graces)
        main = NoteEvent(
            "melody", note.pitch.midi, start, length, _velocity(level_db), (), swell, joined
        )
        events.extend(_played(note, main, soloist))
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


def _held_s(note: MelodyNote, room_s: float, *, meets: bool) -> float:
    """Give how long a sound lasts, of the time there is until the next one."""
    if note.breath and meets:
        room_s -= min(_BREATH_S, _BREATH_SHARE * room_s)
    asked = articulation(note.marks).length
    if asked is not None:
        return room_s * asked
    if note.joins or "fermata" in note.marks:
        return room_s * (1.0 if note.joins else _HELD_OUT)
    if not meets:
        return room_s * _LET_GO
    # The end of a slur, a tongued eighth, a quarter in jazz; longer notes are held out.
    if note.joined or note.duration < 1:
        return room_s * _TONGUED
    return room_s * (0.85 if note.duration == 1 else _TONGUED)


def _levels(
    line: Sequence[MelodyNote], index: int, timeline: Timeline, start: float, length: float
) -> tuple[float, Curve]:
    """Give a sound's loudest level in decibels against mf, and its course below that."""
    note = line[index]
    played = articulation(note.marks)
    level = played.level_db + _place_db(line, index, timeline)
    level += _STRUCK_DB if note.struck else 0.0
    shape = swell_of(
        length,
        decay_db=played.decay_db or (3.0 if note.struck else 0.0),
        joined=note.joined,
        joins=note.joins,
        falls="falloff" in note.marks,
    )
    loudest, below = summed([shape, _page_curve(note, timeline, start, length)])
    return level + loudest, below


def _page_curve(note: MelodyNote, timeline: Timeline, start: float, length: float) -> Curve:
    """Give the page's dynamics over a sound, in seconds from its onset."""
    if not note.dynamics:
        return ()
    (_, first), *inside, (_, last) = note.dynamics
    timed = (
        (timeline.seconds(note.start + at, soloist=True) - start, db) for at, db in inside
    )
    # The ends are the sound's own, whatever human error or a breath made of them.
    return (
        (0.0, first),
        *((at, db) for at, db in timed if 0 < at < length),
        (length, last),
    )


def _place_db(line: Sequence[MelodyNote], index: int, timeline: Timeline) -> float:
    """Give what a sound's place in the line and in the bar makes of it."""
    note = line[index]
    before = line[index - 1] if index else None
    after = line[index + 1] if index + 1 < len(line) else None
    level = 0.0
    if before is not None and after is not None:
        is_top = before.pitch < note.pitch and after.pitch < note.pitch
        level += _TOP_DB if is_top else 0.0
    if timeline.on_beat(note.start):
        level += 0.0 if timeline.swings(note.start) else _EVEN_BEAT_DB
    else:
        ends_phrase = after is None or after.start > note.end
        pushes = ends_phrase or note.duration > Fraction(1, 2)
        level += _LEAN_DB if pushes or timeline.swings(note.start) else 0.0
    if note.joined:
        is_pair = not note.joins and before is not None and not before.joined
        level += _SECOND_OF_TWO_DB if is_pair else _SLURRED_DB
    return level


def _velocity(level_db: float) -> int:
    # A synthesiser's loudness goes with the square of velocity (SoundFont 2.04, 8.4.1).
    return max(16, min(127, round(MEZZOFORTE * 10 ** (level_db / 40))))


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
    # Tongued once, on the first of them: the main note follows in the same breath.
    return [
        NoteEvent(
            "melody", grace.pitch.midi, first + i * each, each, velocity,
            joined=i > 0 or note.joined,
        )
        for i, grace in enumerate(graces)
    ]  # fmt: skip


def _played(note: MelodyNote, main: NoteEvent, soloist: Soloist) -> list[NoteEvent]:
    """Give the notes that a sound is really made of."""
    row = ornament(note.pitch, note.key, note.marks, main.duration_s)
    if len(row) == 1:
        bends = bend_curve(note.marks, main.duration_s)
        if not bends:
            bends = vibrato(main.duration_s, soloist.vibrato_cents)
        return [replace(main, bends=bends)]
    events: list[NoteEvent] = []
    at = 0.0
    for place, (midi, share) in enumerate(row):
        length = share * main.duration_s
        events.append(
            NoteEvent(
                "melody", midi, main.start_s + at, length, main.velocity,
                joined=place > 0 or main.joined,
            )
        )  # fmt: skip
        at += length
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
            bends = tuple(point for point in event.bends if point[0] <= length)
            kept.append(replace(event, duration_s=length, bends=bends))
    return kept
