"""The tune: what a lead sheet says, immutable and exact.

Conventions
-----------
* Everything is at concert pitch until `kit.instruments` writes a part.
* Onsets and durations are exact fractions of a quarter note. An onset is counted from
  the start of its bar.
* Bars are numbered as printed: the first full bar is 1, a pick-up is 0. A position in
  `Tune.bars` is called an *index*, to keep the two apart.
* A `Note` is one symbol on the page. A sound that goes on over a bar line is two notes,
  the first of them `tied`; `kit.tune.sounding` joins them.
* Repeats, endings and jumps are kept as written; `kit.tune.unfold` plays them out.

A symbol's id (`note_id`) follows from its place: the same in every key and build.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

from kit.tune.chord import ChordSymbol
from kit.tune.pitch import Interval, Key, Pitch

__all__ = [
    "Bar",
    "ChordEvent",
    "Grace",
    "Jump",
    "Meter",
    "Note",
    "SpanEnd",
    "SpanKind",
    "Tune",
    "Word",
    "bar_id",
    "chords_after",
    "note_id",
    "transposed",
]


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature."""

    # No fraction: 6/8 and 3/4 are equally long, and are not the same meter.
    beats: int = 4
    beat_type: int = 4

    @classmethod
    def parse(cls, text: str) -> Meter:
        """Read ``4/4``.

        Raises
        ------
        ValueError
            If the text is not a time signature.
        """
        top, _, bottom = text.partition("/")
        meter = cls(int(top), int(bottom))
        # A beat is a note value, so a power of two; above 32 it is a slip of the pen.
        if meter.beats < 1 or meter.beat_type not in (1, 2, 4, 8, 16, 32):
            raise ValueError(f"{text!r} is not a time signature such as 4/4")
        return meter

    @property
    def bar_length(self) -> Fraction:
        """Length of a full bar in quarter notes."""
        return Fraction(4 * self.beats, self.beat_type)

    @property
    def is_compound(self) -> bool:
        """Whether three written beats are felt as one (6/8, 9/8, 12/8)."""
        # A bar of 3/8 keeps its three beats: one group of three is not divided further.
        return self.beat_type >= 8 and self.beats % 3 == 0 and self.beats > 3

    @property
    def pulse(self) -> Fraction:
        """Length of the felt beat in quarter notes: 1 in 4/4, 3/2 in 6/8."""
        unit = Fraction(4, self.beat_type)
        return 3 * unit if self.is_compound else unit

    @property
    def pulses(self) -> int:
        """Number of felt beats in a bar."""
        return self.beats // 3 if self.is_compound else self.beats

    def __str__(self) -> str:
        """Print as ``4/4``."""
        return f"{self.beats}/{self.beat_type}"


@dataclass(frozen=True, slots=True)
class Grace:
    """A grace note before a main note; `slash` for the short kind."""

    pitch: Pitch
    slash: bool = True


@dataclass(frozen=True, slots=True)
class Note:
    """One note or rest as written.

    `marks` holds articulations and ornaments by their MusicXML names (``accent``,
    ``staccato``, ``tenuto``, ``strong-accent``, ``falloff``, ``scoop``, ``doit``, ``plop``,
    ``fermata``, ``trill-mark``, ``turn``, ``mordent``, ``inverted-mordent``) and ``ghost``
    for a note head in parentheses. `tuplet` is (notes played, in the time of). `lyrics`
    has one syllable per verse, ``-`` at its end where the word goes on.
    """

    # Exact: three triplet eighths must fill a quarter, or bars would not add up.
    onset: Fraction
    duration: Fraction
    pitch: Pitch | None
    # Said of the first symbol, as in print; the second need not know that it is held.
    tied: bool = False
    graces: tuple[Grace, ...] = ()
    marks: tuple[str, ...] = ()
    # Counts, because a phrase mark may lie over the slurs of its figures.
    slurs_started: int = 0
    slurs_ended: int = 0
    # A third of a beat may be of a triplet or of a sextuplet, and print tells them apart.
    tuplet: tuple[int, int] | None = None
    lyrics: tuple[str, ...] = ()

    @property
    def is_rest(self) -> bool:
        """Whether nothing sounds."""
        return self.pitch is None

    @property
    def end(self) -> Fraction:
        """Where the note stops, in quarter notes from the start of its bar."""
        return self.onset + self.duration


@dataclass(frozen=True, slots=True)
class ChordEvent:
    """A chord symbol above a moment of a bar; it holds until the next one."""

    # Without a length, which would be wrong as soon as bars are set side by side anew.
    onset: Fraction
    symbol: ChordSymbol


@dataclass(frozen=True, slots=True)
class Word:
    """Text, a dynamic or a tempo at a moment of a bar: ``mf``, ``rit.``, ``Slower`` ♩ = 90.

    A tempo that is printed as a figure has it in `tempo_qpm`, quarter notes per minute, and
    may be without words. The tune's first tempo is `Tune.tempo_qpm`.
    """

    onset: Fraction
    text: str
    kind: Literal["words", "dynamics", "tempo"] = "words"
    tempo_qpm: float | None = None


SpanKind = Literal[
    "crescendo", "diminuendo", "8va", "8vb", "15ma", "15mb", "optional 8va", "optional 8vb"
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class SpanEnd:
    """One end of a line that spans several notes: a hairpin or an octave sign.

    A line opens before the note at its onset and closes at the end of a note, so its other
    end has `opens` False and the onset at which that note stops. Under ``8va`` the pitches
    of the tune stay what they are; only the page shows them an octave lower. An *optional*
    octave leaves the page as it is, and the player the choice.
    """

    # Two ends instead of one line with a length: bars between them may be cut out, repeated
    # or played in another order.
    onset: Fraction
    kind: SpanKind
    opens: bool


Jump = Literal[
    "segno", "coda", "to coda", "fine", "D.C.", "D.S.",
    "D.C. al fine", "D.C. al coda", "D.S. al fine", "D.S. al coda",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar as written.

    Parameters
    ----------
    number : int
        As printed: 0 for a pick-up; bars of endings have numbers of their own.
    notes : tuple of Note
        In order of onset, rests included, filling the bar.
    chords : tuple of ChordEvent
        In order of onset. A chord in force from an earlier bar is not repeated here.
    meter, key
        In force in this bar.
    section : str
        The label printed at its start (``A``), or empty.
    repeat_start, repeat_times
        A repeat sign that opens here; one that closes here and how often the passage is
        played in all (0: none closes).
    endings : tuple of int
        The passes on which this bar is played (first ending: ``(1,)``); empty for all.
    jumps : tuple of Jump
        Signs and instructions: ``segno`` and ``coda`` stand at the bar's start, the others
        act at its end.
    barline : "single", "double" or "final"
        On the right-hand side.
    line_break : bool
        Whether the source starts a new line here.
    spans : tuple of SpanEnd
        Ends of hairpins and octave signs, in order of onset, closing ones first.
    pickup : bool
        Whether it is an incomplete bar that leads into the next one. In mid-tune it bears
        the number of the short bar before it, which it completes.
    """

    number: int
    notes: tuple[Note, ...]
    chords: tuple[ChordEvent, ...] = ()
    # In every bar, not only where they change: bars are cut out and set side by side.
    meter: Meter = field(default_factory=Meter)
    key: Key = field(default_factory=lambda: Key(0))
    section: str = ""
    words: tuple[Word, ...] = ()
    repeat_start: bool = False
    # A number: folk tunes and tags are played three times as well as twice.
    repeat_times: int = 0
    # Numbers again, because one ending may serve several passes ("1, 3").
    endings: tuple[int, ...] = ()
    jumps: tuple[Jump, ...] = ()
    barline: Literal["single", "double", "final"] = "single"
    line_break: bool = False
    pickup: bool = False
    spans: tuple[SpanEnd, ...] = ()

    @property
    def length(self) -> Fraction:
        """What the notes fill, in quarter notes; a pick-up's is short."""
        # Without notes it is a bar being made, which will be full.
        return self.notes[-1].end if self.notes else self.meter.bar_length

    @property
    def is_short(self) -> bool:
        """Whether it is a pick-up or completes one."""
        return self.length < self.meter.bar_length


@dataclass(frozen=True, slots=True)
class Tune:
    """A melody with its changes, as on a lead sheet, at concert pitch.

    `tempo_qpm` is in quarter notes per minute, None where the source gives none.
    `source` is the file as the teacher names it, for messages. `notices` says, a sentence
    each, what the reader decided or left out.
    """

    title: str
    bars: tuple[Bar, ...]
    composer: str = ""
    lyricist: str = ""
    arranger: str = ""
    rights: str = ""
    feel: str = ""
    # No usual tempo stands in for it: that the source gives none is told to the teacher.
    tempo_qpm: float | None = None
    part_name: str = ""
    source: str = ""
    notices: tuple[str, ...] = field(default=(), compare=False)  # no part of the music

    @property
    def key(self) -> Key:
        """The key in force at the start."""
        return self.bars[0].key

    @property
    def meter(self) -> Meter:
        """The meter in force at the start."""
        return self.bars[0].meter

    @property
    def has_pickup(self) -> bool:
        """Whether it begins with an incomplete bar."""
        return self.bars[0].pickup

    def index_of(self, number: int) -> int:
        """Give the index of the first bar printed with this number.

        Raises
        ------
        KeyError
            If there is no such bar.
        """
        # The first, as endings and the halves of a cut bar may bear one number.
        for index, bar in enumerate(self.bars):
            if bar.number == number:
                return index
        raise KeyError(number)

    def chords_in_force(self, index: int) -> tuple[ChordEvent, ...]:
        """Give a bar's chords with the one that still holds at its start in front."""
        own = self.bars[index].chords
        if own and own[0].onset == 0:
            return own
        # A chord holds until the next one, over bar lines and repeats as written.
        for bar in reversed(self.bars[:index]):
            if bar.chords:
                return (ChordEvent(Fraction(0), bar.chords[-1].symbol), *own)
        return own

    def all_chords_in_force(self) -> tuple[tuple[ChordEvent, ...], ...]:
        """Give for every bar what `chords_in_force` gives, walking over the tune once."""
        found: list[tuple[ChordEvent, ...]] = []
        events: tuple[ChordEvent, ...] = ()
        for bar in self.bars:
            events = chords_after(events, bar)
            found.append(events)
        return tuple(found)


def chords_after(before: tuple[ChordEvent, ...], bar: Bar) -> tuple[ChordEvent, ...]:
    """Give the chords in force in a bar, from those in force in the bar before it."""
    own = bar.chords
    if not before or (own and own[0].onset == 0):
        return own
    return (ChordEvent(Fraction(0), before[-1].symbol), *own)


def transposed(tune: Tune, interval: Interval) -> Tune:
    """Move everything that has a pitch by an interval: notes, graces, chords and keys."""
    return replace(tune, bars=tuple(_transposed_bar(bar, interval) for bar in tune.bars))


def _transposed_bar(bar: Bar, interval: Interval) -> Bar:
    return replace(
        bar,
        # By the same interval as the notes, so that what was in the key stays in it.
        key=bar.key + interval,
        notes=tuple(
            replace(
                note,
                pitch=note.pitch + interval,
                graces=tuple(replace(g, pitch=g.pitch + interval) for g in note.graces),
            )
            if note.pitch is not None
            else note
            for note in bar.notes
        ),
        chords=tuple(
            replace(event, symbol=event.symbol + interval) for event in bar.chords
        ),
    )


def bar_id(index: int) -> str:
    """Give the id of the bar at an index of the tune: ``b7``."""
    # By index: printed numbers come twice where a bar is cut by a repeat.
    return f"b{index}"


def note_id(bar: int, position: int, grace: int | None = None) -> str:
    """Give the id of a symbol: bar index, position in the bar, grace note if any."""
    stem = f"b{bar}n{position}"
    return stem if grace is None else f"{stem}g{grace}"
