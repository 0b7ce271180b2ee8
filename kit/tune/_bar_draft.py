"""How does a reader keep a bar while it is still being read?

A draft is mutable: a later sign may lengthen a note already read (broken rhythm), end a
slur on it or put a syllable below it. `BarDraft.finished` makes the immutable bar of it.
Positions of chord symbols, words and jumps are indices of the note they stand above.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from kit.tune._numbering import meter_filled_by
from kit.tune._symbols import split_into_symbols, tuplet_of
from kit.tune.marks import in_written_order
from kit.tune.model import Bar, Grace, Jump, Meter, Note, SpanEnd, SpanKind, Word
from kit.tune.pitch import Key, Pitch

__all__ = ["BarDraft", "NoteDraft", "SpanDraft", "WordDraft", "WordKind"]

WordKind = Literal["words", "dynamics", "tempo"]
_AT_START = ("segno", "coda")


@dataclass(frozen=True, slots=True)
class WordDraft:
    """A word above the note at a position; the tempo with it, if one is printed."""

    position: int
    text: str
    kind: WordKind
    tempo_qpm: float | None = None

    def at(self, position: int) -> WordDraft:
        """Give the same word above another note."""
        return replace(self, position=position)


@dataclass(frozen=True, slots=True)
class SpanDraft:
    """One end of a hairpin or octave sign: before, or if it closes behind, some notes."""

    position: int
    kind: SpanKind
    opens: bool


@dataclass(slots=True, eq=False)
class NoteDraft:
    """A note or rest being read; fields as in `Note`, without its onset."""

    duration: Fraction
    pitch: Pitch | None
    tied: bool = False
    graces: tuple[Grace, ...] = ()
    marks: list[str] = field(default_factory=list)
    slurs_started: int = 0
    slurs_ended: int = 0
    tuplet: tuple[int, int] | None = None
    lyrics: list[str] = field(default_factory=list)

    def add_lyric(self, verse: int, syllable: str) -> None:
        """Put a syllable below the note; verses count from 0."""
        self.lyrics += [""] * (verse + 1 - len(self.lyrics))
        self.lyrics[verse] = syllable

    def finished(self, onset: Fraction, meter: Meter, *, whole_bar: bool) -> list[Note]:
        """Give the note, or the tied notes that are needed to write its length.

        Raises
        ------
        ValueError
            If no written notes have the length.
        """
        tuplet = self.tuplet or tuplet_of(self.duration)
        # A whole bar of silence is one rest, however long it is.
        if self.pitch is None and whole_bar:
            lengths: tuple[Fraction, ...] = (self.duration,)
        else:
            lengths = split_into_symbols(
                self.duration, onset=onset, meter=meter, tuplet=tuplet
            )
        last = len(lengths) - 1
        # A fermata stands at the end of a tied sound, every other sign at its start.
        held = [mark for mark in self.marks if mark == "fermata"]
        struck = [mark for mark in self.marks if mark != "fermata" or not last]
        notes: list[Note] = []
        for place, length in enumerate(lengths):
            marks = struck if place == 0 else held if place == last else []
            notes.append(
                Note(
                    onset,
                    length,
                    self.pitch,
                    tied=self.pitch is not None and (place < last or self.tied),
                    # What is struck is struck once: at the first of tied symbols.
                    graces=self.graces if place == 0 else (),
                    marks=in_written_order(marks),
                    slurs_started=self.slurs_started if place == 0 else 0,
                    slurs_ended=self.slurs_ended if place == last else 0,
                    tuplet=tuplet,
                    lyrics=tuple(self.lyrics) if place == 0 else (),
                )
            )
            onset += length
        return notes


@dataclass(slots=True, eq=False)
class BarDraft:
    """A bar being read; `meter` None is free meter."""

    meter: Meter | None
    key: Key
    notes: list[NoteDraft] = field(default_factory=list)
    chords: list[tuple[int, str]] = field(default_factory=list)
    words: list[WordDraft] = field(default_factory=list)
    spans: list[SpanDraft] = field(default_factory=list)
    section: str = ""
    repeat_start: bool = False
    repeat_times: int = 0
    endings: tuple[int, ...] = ()
    jumps: list[tuple[int, Jump]] = field(default_factory=list)
    barline: Literal["single", "double", "final"] = "single"
    line_break: bool = False

    @property
    def length(self) -> Fraction:
        """What is filled so far, in quarter notes."""
        return sum((note.duration for note in self.notes), Fraction(0))

    @property
    def late_signs(self) -> frozenset[Jump]:
        """The signs that stand behind the last note and so mean the next bar."""
        count = len(self.notes)
        return frozenset(
            jump for at, jump in self.jumps if jump in ("segno", "coda") and at >= count > 0
        )

    def onset_of(self, position: int) -> Fraction:
        """Give the onset of the note at a position, or where the next would stand."""
        return sum((note.duration for note in self.notes[:position]), Fraction(0))

    def finished(self) -> Bar:
        """Give the immutable bar, without number and chord symbols.

        Raises
        ------
        ValueError
            If the meter is free and no time signature has the bar's length.
        """
        meter = self.meter if self.meter is not None else meter_filled_by(self.length)
        notes: list[Note] = []
        now = Fraction(0)
        for draft in self.notes:
            notes.extend(draft.finished(now, meter, whole_bar=len(self.notes) == 1))
            now += draft.duration
        return Bar(
            number=0,
            notes=tuple(notes),
            meter=meter,
            key=self.key,
            section=self.section,
            words=tuple(
                Word(self.onset_of(word.position), word.text, word.kind, word.tempo_qpm)
                for word in self.words
            ),
            repeat_start=self.repeat_start,
            repeat_times=self.repeat_times,
            endings=self.endings,
            jumps=in_order(jump for _, jump in self.jumps),
            # The repeat sign is a bar line itself.
            barline="single" if self.repeat_times else self.barline,
            line_break=self.line_break,
            spans=tuple(
                SpanEnd(self.onset_of(span.position), span.kind, span.opens)
                for span in self.spans
            ),
        )


def in_order(jumps: Iterable[Jump]) -> tuple[Jump, ...]:
    """Give each sign or instruction once, those that stand at a bar's start first."""
    return tuple(sorted(dict.fromkeys(jumps), key=lambda jump: jump not in _AT_START))
