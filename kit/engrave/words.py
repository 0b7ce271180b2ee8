"""Music in words: bars and chords for those who listen instead of look."""

from __future__ import annotations

from kit.instruments.part import Part
from kit.tune.chord import KINDS, ChordSymbol, Degree
from kit.tune.marks import mark_named
from kit.tune.model import Bar, Note
from kit.tune.notation import note_value

__all__ = ["chord_in_words", "describe_bars"]

_ALTERATIONS = {
    -2: "double flat ",
    -1: "flat ",
    0: "",
    1: "sharp ",
    2: "double sharp ",
}
_NUMBERS = {
    1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven",
    9: "nine", 11: "eleven", 13: "thirteen",
}  # fmt: skip
_SPANS = {
    "crescendo": "Crescendo",
    "diminuendo": "Diminuendo",
    "8va": "Passage printed an octave lower than it sounds",
    "8vb": "Passage printed an octave higher than it sounds",
    "15ma": "Passage printed two octaves lower than it sounds",
    "15mb": "Passage printed two octaves higher than it sounds",
    "optional 8va": "Passage that may be played an octave higher",
    "optional 8vb": "Passage that may be played an octave lower",
}


def chord_in_words(symbol: ChordSymbol) -> str:
    """Say a chord symbol.

    Examples
    --------
    >>> from kit.tune.pitch import NoteName
    >>> chord_in_words(ChordSymbol(NoteName("B", -1), "dominant", (Degree(9, -1),)))
    'B flat seven flat nine'
    """
    if symbol.root is None:
        return "no chord"
    kind = symbol.text if symbol.kind == "other" else KINDS[symbol.kind].words
    words = [symbol.root.in_words, kind, *(_degree(degree) for degree in symbol.degrees)]
    if symbol.bass is not None:
        words.append(f"over {symbol.bass.in_words}")
    return " ".join(word for word in words if word)


def describe_bars(
    part: Part, *, first: int = 0, last: int | None = None
) -> tuple[str, ...]:
    """Say each bar in a sentence, at written pitch.

    Parameters
    ----------
    part : Part
        What is described.
    first, last : int
        Bar indices, both included; the last bar if `last` is None.
    """
    end = len(part.tune.bars) if last is None else last + 1
    return tuple(_describe(bar) for bar in part.tune.bars[first:end])


def _describe(bar: Bar) -> str:
    opening = "Pick-up" if bar.pickup else f"Bar {bar.number}"
    if bar.section:
        opening = f"Section {bar.section}. {opening}"
    if bar.endings:
        opening += f", ending {' and '.join(map(str, bar.endings))}"
    chords = ", then ".join(chord_in_words(event.symbol) for event in bar.chords)
    notes = "; ".join(_note(note) for note in bar.notes)
    if all(note.is_rest for note in bar.notes):
        notes = "rest"
    lines = "".join(
        f" {_SPANS.get(end.kind, end.kind)} {'begins' if end.opens else 'ends'}."
        for end in bar.spans
    )
    closing = lines + (" Repeat." if bar.repeat_times else "")
    return f"{opening}{', ' if chords else ''}{chords}: {notes}.{closing}"


def _note(note: Note) -> str:
    value = note_value(note.duration, note.tuplet).in_words
    if note.tuplet == (3, 2):
        value += " triplet"
    if note.pitch is None:
        return f"rest, {value}"
    graces = "".join(f"grace note {grace.pitch.in_words}, " for grace in note.graces)
    marks = "".join(f", {mark_named(mark).spoken}" for mark in note.marks)
    tie = ", tied" if note.tied else ""
    return f"{graces}{note.pitch.in_words}, {value}{marks}{tie}"


def _degree(degree: Degree) -> str:
    number = _NUMBERS.get(degree.value, str(degree.value))
    if degree.change == "subtract":
        return f"no {number}"
    if degree.change == "add" and degree.alter == 0:
        return f"add {number}"
    return f"{_ALTERATIONS.get(degree.alter, '')}{number}"
