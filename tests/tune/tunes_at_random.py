"""Tunes at random, as a reader gives them: tuplets, ties, slurs, lines, repeats, jumps."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from kit.tune._bar_draft import in_order
from kit.tune._loose_ends import without_loose_ends
from kit.tune._notices import Notices
from kit.tune._numbering import numbered
from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.marks import in_written_order, marks
from kit.tune.model import Bar, ChordEvent, Grace, Meter, Note, SpanEnd, Tune, Word
from kit.tune.pitch import Interval, Key, NoteName, Pitch

PITCHES = st.builds(
    Pitch, st.sampled_from("CDEFGAB"), st.integers(-1, 1), st.integers(3, 6)
)
BEATS = st.sampled_from(
    ["4", "2 2", "2+1 1", "3+1", "1+3", "1 1 2", "2 1 1", "t t t", "T t", "1 1 1 1"]
)
MARKS = st.sampled_from(sorted(marks()))
SYLLABLES = st.sampled_from(["moon-", "light", "oh", "A & B", "ça-"])
NAMES = st.builds(NoteName, st.sampled_from("CDEFGAB"), st.integers(-1, 1))
CHORDS = st.one_of(
    st.just(ChordSymbol(None, "none")),
    st.builds(
        ChordSymbol,
        NAMES,
        st.sampled_from(sorted(set(KINDS) - {"none", "other"})),
        st.sampled_from([(), (Degree(9, -1),), (Degree(5, 1), Degree(9, 1))]),
        st.none() | NAMES,
    ),
)
WORDS = st.sampled_from(
    [("lightly", "words"), ("<b>& so on", "words"), ("mf", "dynamics"), ("sfz", "dynamics"),
     ("rit.", "tempo"), ("a tempo", "tempo")]
)  # fmt: skip
JUMPS = st.sampled_from(
    [(), (), (), ("segno",), ("fine",), ("to coda",), ("D.C. al fine",), ("D.S. al coda",),
     ("segno", "D.S.")]
)  # fmt: skip
SPANS = st.sampled_from(
    [
        "crescendo",
        "diminuendo",
        "8va",
        "8vb",
        "15ma",
        "15mb",
        "optional 8va",
        "optional 8vb",
    ]
)
MODES = st.sampled_from(["major", "minor", "dorian", "mixolydian"])


def lengths(cell: str):
    """Give (length in quarters, tuplet) of each symbol of a beat."""
    for word in cell.split():
        if word in "tT":
            yield Fraction(1 if word == "t" else 2, 3), (3, 2)
        elif "+" in word:
            yield from ((Fraction(int(part), 4), None) for part in word.split("+"))
        else:
            yield Fraction(int(word), 4), None


@st.composite
def bars(draw, beats: int):
    """Draw one bar of so many quarters, ties and slurs not yet settled."""
    notes: list[Note] = []
    now = Fraction(0)
    for _ in range(beats):
        for length, tuplet in lengths(draw(BEATS)):
            notes.append(draw(symbols(now, length, tuplet)))
            now += length
    onsets = st.sampled_from([note.onset for note in notes] + [Fraction(1, 2)])
    chords = {draw(onsets): draw(CHORDS) for _ in range(draw(st.integers(0, 2)))}
    words = [(draw(onsets), *draw(WORDS)) for _ in range(draw(st.integers(0, 2)))]
    return Bar(
        0,
        tuple(notes),
        tuple(ChordEvent(onset, chords[onset]) for onset in sorted(chords)),
        words=tuple(Word(*word) for word in sorted(words, key=lambda word: word[0])),
        section=draw(st.sampled_from(["", "", "A", "Bridge", "<i>"])),
        jumps=in_order(draw(JUMPS)),
        line_break=draw(st.booleans()),
    )


@st.composite
def symbols(draw, onset, length, tuplet):
    if draw(st.integers(0, 6)) == 0:
        marks = draw(st.sampled_from([(), ("fermata",)]))
        return Note(onset, length, None, marks=marks, tuplet=tuplet)
    return Note(
        onset,
        length,
        draw(PITCHES),
        tied=draw(st.integers(0, 4)) == 0,
        graces=tuple(draw(st.lists(st.builds(Grace, PITCHES, st.booleans()), max_size=1))),
        marks=in_written_order(draw(st.lists(MARKS, max_size=2))),
        slurs_started=draw(st.integers(0, 1)),
        slurs_ended=draw(st.integers(0, 1)),
        tuplet=tuplet,
        lyrics=tuple(draw(st.lists(SYLLABLES, max_size=2))),
    )


def with_repeats(draw, row: list[Bar]) -> list[Bar]:
    for index, bar in enumerate(row):
        times = draw(st.sampled_from([0, 0, 0, 2, 3]))
        barline = draw(st.sampled_from(["single", "single", "double", "final"]))
        row[index] = replace(
            bar,
            repeat_start=draw(st.integers(0, 3)) == 0,
            repeat_times=times,
            barline="single" if times else barline,
        )
    if len(row) > 2 and draw(st.booleans()):
        row[-2] = replace(row[-2], endings=(1,), repeat_times=2, barline="single")
        row[-1] = replace(row[-1], endings=(2,), repeat_start=False)
    return row


def with_ties_that_lead_on(row: list[Bar]) -> list[Bar]:
    """Give a note behind a tie the pitch of the note before, where it is a note."""
    held = None
    for index, bar in enumerate(row):
        notes = []
        for note in bar.notes:
            kept = replace(note, pitch=held) if held and note.pitch else note
            notes.append(kept)
            held = kept.pitch if kept.tied else None
        row[index] = replace(bar, notes=tuple(notes))
    return row


@st.composite
def tunes(draw):
    """Draw a tune as a reader would give it: numbered, without loose ends."""
    beats = draw(st.sampled_from([2, 3, 4]))
    key = Key(draw(st.integers(-2, 5)), draw(MODES))
    row = [draw(bars(beats)) for _ in range(draw(st.integers(1, 4)))]
    row = [replace(bar, meter=Meter(beats, 4), key=key) for bar in row]
    row = with_ties_that_lead_on(with_repeats(draw, row))
    row[0] = replace(row[0], line_break=False)
    if len(row) > 1 and draw(st.booleans()):
        row[-1] = replace(
            row[-1], key=key + Interval.parse(draw(st.sampled_from(["M2", "m2"])))
        )
    for _ in range(draw(st.integers(0, 2))):
        kind, first, last = draw(SPANS), draw(st.integers(0, len(row) - 1)), len(row) - 1
        start = draw(st.sampled_from(row[first].notes)).onset
        end = draw(st.sampled_from(row[last].notes)).end
        row[first] = with_span(row[first], SpanEnd(start, kind, opens=True))
        row[last] = with_span(row[last], SpanEnd(end, kind, opens=False))
    if draw(st.booleans()):
        change = Word(
            row[-1].notes[-1].onset, draw(st.sampled_from(["", "Slower"])), "tempo", 72.5
        )
        words = sorted((*row[-1].words, change), key=lambda word: word.onset)
        row[-1] = replace(row[-1], words=tuple(words))
    return Tune(
        draw(st.sampled_from(["Any", "<script>&", "Ünïcode"])),
        without_loose_ends(numbered(row), Notices()),
        composer=draw(st.sampled_from(["", "A & B"])),
        rights=draw(st.sampled_from(["", "CC0"])),
        feel=draw(st.sampled_from(["", "Medium swing", "Bossa", "Jazz waltz"])),
        tempo_qpm=draw(st.sampled_from([60.0, 132.0, 133.3333])),
        source="any.musicxml",
    )


def with_span(bar: Bar, end: SpanEnd) -> Bar:
    return replace(bar, spans=(*bar.spans, end))
