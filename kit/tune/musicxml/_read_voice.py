"""Which notes of a MusicXML measure are the melody's, one after another?

A measure is a stream with a hand that moves: ``backup`` and ``forward`` move it, notes
move it on. Here the stream becomes the row of notes of one voice.

Conventions
-----------
* The melody is the first voice, on the upper staff, that has notes in the bar; of a chord
  of notes the highest.
* Programs round lengths to their ``divisions`` (a triplet as 3+3+4); where a note's symbol
  and its rounded length differ by less than one division, the symbol is right.

Source: MusicXML 4.0, ``note``, ``backup``, ``forward``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from kit.tune._notices import Notices
from kit.tune.musicxml._read_values import number, pitch_of, written_length

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["MeasureStream", "VoiceNote", "melody_of"]

MAX_LENGTH = 4096
"""Quarter notes in one bar; more is a mistake or an attack."""


@dataclass(slots=True, eq=False)
class VoiceNote:
    """A note element with its place; `others` sound together with it."""

    element: Element
    onset: Fraction
    raw_length: Fraction
    length: Fraction
    staff: str
    voice: str
    is_grace: bool
    others: list[Element] = field(default_factory=list)

    @property
    def has_pitch(self) -> bool:
        """Whether it is a note, not a rest."""
        return self.element.find("pitch") is not None

    @property
    def top(self) -> Element:
        """The element of the highest of the notes that sound together."""
        pitched = [e for e in (self.element, *self.others) if e.find("pitch") is not None]
        if not pitched:
            return self.element
        return max(pitched, key=lambda e: pitch_of(_pitch_element(e)).midi)


def _pitch_element(note: Element) -> Element:
    pitch = note.find("pitch")
    assert pitch is not None
    return pitch


@dataclass(slots=True)
class MeasureStream:
    """The hand that moves through a measure; all times are quarter notes, as rounded."""

    divisions: Fraction
    now: Fraction = Fraction(0)
    extent: Fraction = Fraction(0)
    notes: list[VoiceNote] = field(default_factory=list)
    _layer: int = 1

    def units(self, element: Element) -> Fraction:
        """Read an element's duration in quarter notes.

        Raises
        ------
        ValueError
            If it has none, or an absurd one.
        """
        length = number(element.findtext("duration"), "duration of a note") / self.divisions
        if not 0 <= length <= MAX_LENGTH:
            raise ValueError(f"a note or rest is {float(length):g} quarter notes long")
        return length

    def move(self, length: Fraction) -> None:
        """Move the hand; backward for a backup.

        Raises
        ------
        ValueError
            If it leaves the measure.
        """
        self.now += length
        if self.now < 0:
            raise ValueError("a backup reaches back over the bar line")
        if self.now > MAX_LENGTH:
            raise ValueError(f"it is longer than {MAX_LENGTH} quarter notes")
        if length < 0:
            # Without voice numbers, going back begins another layer.
            self._layer += 1
        self.extent = max(self.extent, self.now)

    def add(self, element: Element) -> None:
        """Add a note element and move on behind it.

        Raises
        ------
        ValueError
            If its length cannot be read.
        """
        staff = (element.findtext("staff") or "1").strip()
        voice = (element.findtext("voice") or "").strip() or str(self._layer)
        if element.find("chord") is not None:
            if self.notes:
                self.notes[-1].others.append(element)
            return
        if element.find("grace") is not None:
            zero = Fraction(0)
            self.notes.append(
                VoiceNote(element, self.now, zero, zero, staff, voice, is_grace=True)
            )
            return
        raw = self.units(element)
        # A cue is another player's: it takes its time, and is not this melody's.
        if raw > 0 and element.find("cue") is None:
            self.notes.append(
                VoiceNote(
                    element, self.now, raw, self._exact(element, raw), staff, voice,
                    is_grace=False,
                )
            )  # fmt: skip
        self.move(raw)

    def _exact(self, element: Element, raw: Fraction) -> Fraction:
        written = written_length(element)
        if written is None or abs(written - raw) >= 1 / self.divisions:
            return raw
        return written


def melody_of(stream: MeasureStream, notices: Notices) -> list[VoiceNote]:
    """Give the melody's notes and grace notes in order."""
    upper = min((note.staff for note in stream.notes), key=_rank, default="1")
    if upper != "1" and any(note.has_pitch for note in stream.notes):
        upper = min((n.staff for n in stream.notes if n.has_pitch), key=_rank)
    on_staff = [note for note in stream.notes if note.staff == upper]
    voices = sorted({note.voice for note in on_staff}, key=_rank)
    singing = [v for v in voices if any(n.has_pitch for n in on_staff if n.voice == v)]
    if len(singing) > 1:
        notices.say("Where the part has several voices, the first is the melody.")
    if any(note.staff != upper and note.has_pitch for note in stream.notes):
        notices.say("Of the part's staves, the upper one is the melody.")
    chosen = (singing or voices or [""])[0]
    melody = [note for note in on_staff if note.voice == chosen]
    if any(note.others for note in melody):
        notices.say("Of notes that sound together, the highest is the melody.")
    return sorted(melody, key=lambda note: note.onset)


def _rank(name: str) -> tuple[int, str]:
    return (int(name) if name.isdecimal() and len(name) < 6 else 10**6, name)
