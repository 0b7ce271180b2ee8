"""What events does a Standard MIDI File hold, line by line?

A line is what one track plays on one channel. Times stay in ticks here.

Source: Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1996), read by mido.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from kit.errors import NotationError
from kit.tune._notices import Notices
from kit.tune.source_text import printable

if TYPE_CHECKING:
    import mido

__all__ = ["MidiLine", "MidiNote", "MidiScore", "choose_line", "read_events"]

MAX_FILE_BYTES = 2_000_000
MAX_NOTES = 60_000
MAX_TEXTS = 20_000
_DRUM_CHANNEL = 9
_MELODY_NAME = re.compile(
    r"melod|lead|vocal|voice|voc\b|solo|head|tune|theme|singer", re.IGNORECASE
)
_OVERLAP_ALLOWED = 0.05
_ENOUGH_NOTES = 0.25


@dataclass(frozen=True, slots=True)
class MidiNote:
    """A note by its ticks; `key` is the MIDI note number."""

    start: int
    end: int
    key: int


@dataclass(slots=True)
class MidiLine:
    """What a track plays on a channel."""

    name: str
    notes: list[MidiNote] = field(default_factory=list)

    @property
    def together(self) -> float:
        """Share of the notes that begin while a note before still sounds."""
        ordered = sorted(self.notes, key=lambda note: (note.start, -note.key))
        count, end = 0, -1
        for note in ordered:
            # A player's legato lets notes overlap a little; a tenth is no chord.
            if note.start < end - (note.end - note.start) // 10:
                count += 1
            end = max(end, note.end)
        return count / len(ordered) if ordered else 0.0

    @property
    def mean_key(self) -> float:
        """Mean MIDI note number."""
        return sum(note.key for note in self.notes) / len(self.notes)


@dataclass(slots=True)
class MidiScore:
    """All that a MIDI file says about the music; lists are (tick, value) in order."""

    ticks_per_quarter: int
    lines: list[MidiLine] = field(default_factory=list)
    title: str = ""
    rights: str = ""
    meters: list[tuple[int, tuple[int, int]]] = field(default_factory=list)
    keys: list[tuple[int, str]] = field(default_factory=list)
    tempos_qpm: list[tuple[int, float]] = field(default_factory=list)
    texts: dict[str, list[tuple[int, str]]] = field(default_factory=dict)


def read_events(data: bytes, *, source: str) -> MidiScore:
    """Read the events of a Standard MIDI File.

    Raises
    ------
    NotationError
        If it is damaged, too large, or counts in seconds instead of beats.
    """
    import mido  # noqa: PLC0415
    from mido.midifiles.meta import KeySignatureError  # noqa: PLC0415

    if len(data) > MAX_FILE_BYTES:
        raise NotationError(
            f"the MIDI file has more than {MAX_FILE_BYTES / 1e6:.0f} MB",
            file=source,
            remedy="export the one tune alone",
        )
    try:
        midi = mido.MidiFile(file=io.BytesIO(data))
    except (
        OSError,
        EOFError,
        ValueError,
        KeyError,
        IndexError,
        KeySignatureError,
    ) as error:
        raise NotationError(
            "the MIDI file is damaged", file=source, remedy="export it again"
        ) from error
    if midi.ticks_per_beat <= 0:
        raise NotationError(
            "the MIDI file counts in seconds, not in beats",
            file=source,
            remedy="export it with a tempo in beats",
        )
    score = MidiScore(midi.ticks_per_beat)
    for track in midi.tracks:
        _read_track(track, score, source)
    # Files of several tracks mix their events only by time; equal times keep their order.
    score.meters.sort(key=lambda item: item[0])
    score.keys.sort(key=lambda item: item[0])
    score.tempos_qpm.sort(key=lambda item: item[0])
    for texts in score.texts.values():
        texts.sort(key=lambda item: item[0])
    return score


def _read_track(track: mido.MidiTrack, score: MidiScore, source: str) -> None:
    now = 0
    name = ""
    lines: dict[int, MidiLine] = {}
    open_notes: dict[tuple[int, int], int] = {}
    for message in track:
        now += message.time
        if message.is_meta:
            if message.type == "track_name" and not name:
                name = printable(message.name, 80)
            _read_meta(message, now, score)
        elif message.type in ("note_on", "note_off"):
            spot = (message.channel, message.note)
            line = lines.setdefault(message.channel, MidiLine(""))
            # A key that is struck again ends its own note, released or not.
            start = open_notes.pop(spot, None)
            if start is not None and now > start:
                line.notes.append(MidiNote(start, now, message.note))
            # Struck with velocity 0 a key is released (MIDI 1.0).
            if message.type == "note_on" and message.velocity > 0:
                open_notes[spot] = now
            if len(line.notes) > MAX_NOTES:
                raise NotationError(
                    f"it has more than {MAX_NOTES} notes in one track", file=source
                )
    if not score.title and name and not any(line.notes for line in lines.values()):
        score.title = name
    for channel, line in sorted(lines.items()):
        line.name = name
        if line.notes and channel != _DRUM_CHANNEL:
            score.lines.append(line)


def _read_meta(message: mido.MetaMessage, now: int, score: MidiScore) -> None:
    if message.type == "time_signature":
        score.meters.append((now, (message.numerator, message.denominator)))
    elif message.type == "key_signature":
        score.keys.append((now, message.key))
    elif message.type == "set_tempo" and message.tempo > 0:
        score.tempos_qpm.append((now, 60e6 / message.tempo))
    elif message.type == "copyright":
        score.rights = score.rights or printable(message.text)
    elif message.type in ("text", "marker", "lyrics", "cue_marker"):
        texts = score.texts.setdefault(message.type, [])
        if len(texts) < MAX_TEXTS:
            texts.append((now, printable(message.text, 120)))


def choose_line(
    score: MidiScore, wanted: str | None, *, source: str, notices: Notices
) -> MidiLine:
    """Choose the melody's line and say which it is.

    The rule, in order: the track asked for by name; else a track called melody, lead,
    voice and the like; else, of the lines with a good share of the notes, the single ones
    before those that play chords, then the highest.

    Raises
    ------
    NotationError
        If there are no notes, or no track has the wanted name.
    """
    if not score.lines:
        raise NotationError(
            "there are no notes in it",
            file=source,
            remedy="check that it is the right file",
        )
    if wanted is not None:
        return _named(score.lines, wanted, source)
    named = [line for line in score.lines if _MELODY_NAME.search(line.name)]
    most = max(len(line.notes) for line in score.lines)
    busy = [line for line in score.lines if len(line.notes) >= _ENOUGH_NOTES * most]
    chosen = max(
        named or busy, key=lambda line: (line.together <= _OVERLAP_ALLOWED, line.mean_key)
    )
    if len(score.lines) > 1:
        place = score.lines.index(chosen) + 1
        notices.say(
            f"The melody is the line {chosen.name or place} ({place} of "
            f"{len(score.lines)}); the others are left out."
        )
    return chosen


def _named(lines: list[MidiLine], wanted: str, source: str) -> MidiLine:
    for line in lines:
        if line.name.casefold() == wanted.strip().casefold():
            return line
    names = ", ".join(dict.fromkeys(line.name or "without a name" for line in lines[:12]))
    raise NotationError(
        f'there is no track "{printable(wanted, 60)}"',
        file=source,
        remedy=f"name one of its tracks: {names}",
    )
