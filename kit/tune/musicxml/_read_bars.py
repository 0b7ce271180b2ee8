"""What bars does a MusicXML part consist of?

`BarReader` goes through the measures in order and remembers what holds from one to the
next: divisions, key, meter, transposition, open endings.

Source: MusicXML 4.0, ``measure``, ``attributes``, ``barline``, ``print``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING

from kit.errors import NotationError
from kit.tune._bar_draft import BarDraft, NoteDraft
from kit.tune._notices import Notices
from kit.tune._numbering import MAX_BEATS
from kit.tune._semitones import semitones_to_interval
from kit.tune.chord import ChordSymbol
from kit.tune.model import Meter
from kit.tune.musicxml._read_directions import Told, read_direction, read_sound
from kit.tune.musicxml._read_notes import NoteReader
from kit.tune.musicxml._read_values import chord_of, number, whole_number
from kit.tune.musicxml._read_voice import MeasureStream, melody_of
from kit.tune.musicxml._spans import SpanReader
from kit.tune.pitch import Interval, Key
from kit.tune.source_text import printable

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["BarReader", "ReadBar"]

_MODES = frozenset({
    "major", "minor", "dorian", "phrygian", "lydian", "mixolydian", "aeolian",
    "ionian", "locrian",
})  # fmt: skip
MAX_SHIFT = 48
_SKIPPED = frozenset(
    {
        "forward",
        "backup",
        "note",
        "figured-bass",
        "grouping",
        "link",
        "bookmark",
        "listening",
    }
)


@dataclass(slots=True, eq=False)
class ReadBar:
    """A bar being read with what needs the whole tune to be settled."""

    draft: BarDraft
    number: str
    transposition: Interval
    chords: list[tuple[Fraction, ChordSymbol]] = field(default_factory=list)
    told: list[tuple[Fraction, Told]] = field(default_factory=list)


class BarReader:
    """Reads the measures of one part."""

    def __init__(self, notices: Notices) -> None:
        self.notices = notices
        self.bars: list[ReadBar] = []
        self._notes = NoteReader(notices)
        self._spans = SpanReader(notices)
        self._divisions = Fraction(1)
        self._key = Key(0)
        self._has_key = False
        self._meter: Meter | None = None
        self._has_meter = False
        self._transposition = Interval(0, 0)
        self._endings: tuple[int, ...] = ()
        self._late_chords: list[ChordSymbol] = []

    def read(self, measures: tuple[Element, ...]) -> list[ReadBar]:
        """Read all measures.

        Raises
        ------
        NotationError
            With the measure's own number.
        """
        for place, measure in enumerate(measures, start=1):
            number_text = printable(measure.get("number"), 12) or str(place)
            try:
                self.bars.append(self._read_measure(measure, number_text))
            except ValueError as error:
                raise NotationError(
                    str(error),
                    bar=number_text,
                    remedy="export the file again or mend the bar",
                ) from error
        self._notes.finish()
        if not self._has_meter:
            self.notices.say("The source gives no meter; 4/4 is assumed.")
        if not self._has_key:
            self.notices.say("The source gives no key; C major is assumed.")
        return self.bars

    def _read_measure(self, measure: Element, number_text: str) -> ReadBar:
        stream = MeasureStream(self._divisions)
        draft = BarDraft(self._meter_now(), self._key)
        bar = ReadBar(draft, number_text, self._transposition)
        draft.endings = self._endings
        bar.chords = [(Fraction(0), chord) for chord in self._late_chords]
        self._late_chords = []
        for element in measure:
            self._read_element(element, stream, bar)
        exact = self._fill(draft, stream)
        self._place(bar, exact)
        return bar

    def _meter_now(self) -> Meter | None:
        return self._meter if self._has_meter else Meter()

    def _read_element(self, element: Element, stream: MeasureStream, bar: ReadBar) -> None:
        tag = str(element.tag)
        if tag == "note":
            stream.add(element)
        elif tag == "backup":
            stream.move(-stream.units(element))
        elif tag == "forward":
            stream.move(stream.units(element))
        elif tag == "attributes":
            self._read_attributes(element, stream, bar)
        elif tag == "harmony":
            self._read_harmony(element, stream, bar)
        elif tag == "direction":
            if (element.findtext("staff") or "1").strip() == "1":
                told = read_direction(element, self.notices)
                found = [self._spans.read(line, told.text) for line in told.lines]
                told.spans = [span for span in found if span is not None]
                bar.told.append((stream.now + self._offset(element, stream), told))
        elif tag == "sound":
            bar.told.append((stream.now, read_sound(element)))
        elif tag == "barline":
            self._read_barline(element, bar)
        elif tag == "print":
            if "yes" in (element.get("new-system"), element.get("new-page")):
                # The first line begins without a break.
                bar.draft.line_break = bool(self.bars)
        elif tag not in _SKIPPED:
            self.notices.left_out(f"an element of the kind {printable(tag, 30)}")

    def _offset(self, element: Element, stream: MeasureStream) -> Fraction:
        text = element.findtext("offset")
        shift = number(text, "offset") / stream.divisions if text else Fraction(0)
        return max(shift, -stream.now)

    # Key, meter, transposition

    def _read_attributes(
        self, element: Element, stream: MeasureStream, bar: ReadBar
    ) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            value = number(divisions, "number of divisions")
            if not 0 < value <= 1_000_000:
                raise ValueError(f"the number of divisions is {float(value):g}")
            self._divisions = stream.divisions = value
        at_start = stream.now == 0
        key = next((k for k in element.findall("key") if k.get("number", "1") == "1"), None)
        if key is not None:
            self._read_key(key)
            if at_start:
                bar.draft.key = self._key
        time = element.find("time")
        if time is not None:
            self._meter, self._has_meter = _meter_of(time), True
            if self._meter is None:
                self.notices.say("The meter is free: each bar has the meter that it fills.")
            if at_start:
                bar.draft.meter = self._meter
        transpose = element.find("transpose")
        if transpose is not None:
            self._transposition = _transposition_of(transpose)
            bar.transposition = self._transposition
        for style in element.iterfind("measure-style"):
            for sign in style:
                if sign.tag != "multiple-rest":
                    name = printable(str(sign.tag), 20)
                    self.notices.left_out(f"a {name} sign; its bars are read as written")

    def _read_key(self, key: Element) -> None:
        self._has_key = True
        if key.find("fifths") is None:
            self._key = Key(0)
            self.notices.left_out("a key signature of single accidentals")
            return
        fifths = whole_number(key.findtext("fifths"), "key signature", -12, 12)
        mode = (key.findtext("mode") or "").strip().lower()
        self._key = Key(fifths, mode if mode in _MODES else "major")

    # Chord symbols

    def _read_harmony(self, element: Element, stream: MeasureStream, bar: ReadBar) -> None:
        if element.get("type") == "alternate":
            self.notices.left_out("an alternative chord symbol")
            return
        if element.find("inversion") is not None and element.find("bass") is None:
            self.notices.left_out("the inversion of a chord symbol")
        if element.find("frame") is not None:
            self.notices.left_out("a fingering diagram")
        chord = chord_of(element)
        if chord is None:
            self.notices.left_out("a chord symbol without a root")
        else:
            bar.chords.append((stream.now + self._offset(element, stream), chord))

    # Bar lines

    def _read_barline(self, element: Element, bar: ReadBar) -> None:
        draft = bar.draft
        left = element.get("location") == "left"
        if element.get("location") == "middle":
            self.notices.left_out("a bar line within a bar")
            return
        style = (element.findtext("bar-style") or "").strip()
        repeat = element.find("repeat")
        if repeat is not None and repeat.get("direction") == "forward":
            draft.repeat_start = True
        elif repeat is not None:
            times = repeat.get("times")
            draft.repeat_times = (
                whole_number(times, "number of repeats", 2, 99) if times else 2
            )
        elif left and self.bars:
            # A sign on the left parts this bar from the one before, and is kept with that.
            if style in ("light-light", "light-heavy", "heavy-heavy"):
                self.bars[-1].draft.barline = "double"
        elif style in ("light-light", "light-heavy", "heavy-heavy"):
            draft.barline = "double" if style == "light-light" else "final"
        ending = element.find("ending")
        if ending is not None:
            self._read_ending(ending, draft)
        for sign in ("segno", "coda"):
            if element.find(sign) is not None:
                told = Told(jumps=["segno" if sign == "segno" else "coda"])
                # Far behind the last note, wherever that is: `_place` brings it back.
                bar.told.append((Fraction(0) if left else Fraction(10**6), told))

    def _read_ending(self, ending: Element, draft: BarDraft) -> None:
        passes = _passes(ending.get("number", "")) or _passes(ending.text or "")
        if ending.get("type") == "start":
            if not passes:
                self.notices.left_out(f'the ending "{printable(ending.text, 20)}"')
            self._endings = draft.endings = passes
        else:
            draft.endings = draft.endings or passes
            self._endings = ()

    # Notes

    def _fill(self, draft: BarDraft, stream: MeasureStream) -> dict[Fraction, Fraction]:
        """Put the melody into the bar; give exact onsets by rounded ones."""
        exact: dict[Fraction, Fraction] = {}
        raw_now, now = Fraction(0), Fraction(0)
        for note in melody_of(stream, self.notices):
            if note.is_grace:
                self._notes.grace(note)
                continue
            if note.onset < raw_now:
                self.notices.left_out("a note that overlaps another of its voice")
                continue
            if note.onset > raw_now:
                draft.notes.append(NoteDraft(note.onset - raw_now, None))
                now += note.onset - raw_now
            length = note.length
            if _fills_bar(note.element) and draft.meter is not None and not draft.notes:
                # Some programs write four quarters for it in any meter.
                length = min(note.raw_length, draft.meter.bar_length)
                stream.extent = min(stream.extent, length)
            exact[note.onset] = now
            draft.notes.append(self._notes.draft(note, length))
            raw_now, now = note.onset + note.raw_length, now + length
        self._fill_rest(draft, stream, raw_now, now)
        return exact

    def _fill_rest(
        self, draft: BarDraft, stream: MeasureStream, raw_now: Fraction, now: Fraction
    ) -> None:
        """Fill what the other voices, or an empty measure, leave to the melody."""
        limit = draft.meter.bar_length if draft.meter is not None else stream.extent
        if not draft.notes:
            empty = stream.extent == 0
            rest = limit if empty else min(stream.extent, limit)
            if rest:
                draft.notes.append(NoteDraft(rest, None))
            return
        missing = min(stream.extent - raw_now, limit - now)
        if missing > 0:
            draft.notes.append(NoteDraft(missing, None))

    # What stands above the notes

    def _place(self, bar: ReadBar, exact: dict[Fraction, Fraction]) -> None:
        length = bar.draft.length
        placed: dict[Fraction, ChordSymbol] = {}
        for onset, chord in bar.chords:
            here = exact.get(onset, onset)
            # A chord behind the last note stands above the first of the next bar.
            if here >= length > 0:
                self._late_chords.append(chord)
            elif here in placed:
                self.notices.left_out(f"the second chord symbol {chord} above one note")
            else:
                placed[here] = chord
        bar.chords = sorted(placed.items(), key=lambda item: item[0])
        bar.told = [
            (min(exact.get(onset, onset), length), told) for onset, told in bar.told
        ]


def _fills_bar(element: Element) -> bool:
    rest = element.find("rest")
    return rest is not None and rest.get("measure") == "yes"


def _meter_of(time: Element) -> Meter | None:
    """Give the meter of a ``time`` element, sums of beats added up; None if free."""
    if time.find("senza-misura") is not None:
        return None
    total = Fraction(0)
    beat_types = [
        whole_number(element.text, "meter's note value", 1, 64)
        for element in time.findall("beat-type")
    ]
    for beats, beat_type in zip(time.findall("beats"), beat_types, strict=False):
        parts = (beats.text or "").split("+")
        count = sum(whole_number(part, "meter", 1, MAX_BEATS) for part in parts)
        total += Fraction(count, beat_type)
    if not total:
        raise ValueError("the meter has no beats")
    # 2/4 and 3/8 together are counted in eighths.
    smallest = max(beat_types)
    return Meter.parse(f"{int(total * smallest)}/{smallest}")


def _transposition_of(transpose: Element) -> Interval:
    semitones = whole_number(
        transpose.findtext("chromatic"), "transposition", -MAX_SHIFT, MAX_SHIFT
    )
    octaves = whole_number(
        transpose.findtext("octave-change") or "0", "transposition by octaves", -4, 4
    )
    diatonic = transpose.findtext("diatonic")
    if diatonic is None:
        interval = semitones_to_interval(semitones)
    else:
        steps = whole_number(diatonic, "transposition by steps", -MAX_SHIFT, MAX_SHIFT)
        interval = Interval(steps, semitones)
    return interval + Interval(7 * octaves, 12 * octaves)


def _passes(text: str) -> tuple[int, ...]:
    """Read ``1``, ``1, 2`` or ``1.``."""
    parts = [part.strip(" .") for part in text.split(",")]
    good = [int(part) for part in parts if part.isdecimal() and len(part) < 3]
    return tuple(dict.fromkeys(value for value in good if value > 0))
