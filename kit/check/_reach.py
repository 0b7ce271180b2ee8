"""Which notes does an instrument not have, and which lie badly at this level?

Source: the ranges of `kit/instruments/instruments.toml`, where theirs stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kit.check._leaf import Leaf, NotePlace
from kit.check.finding import Finding
from kit.check.players import name_in_text
from kit.form.wording import bars_words, listed
from kit.instruments.part import Part
from kit.instruments.table import Range

__all__ = ["outside_comfort", "outside_range"]


def outside_range(leaf: Leaf, parts: Sequence[Part]) -> Iterator[Finding]:
    """Yield a warning for each part with notes that its instrument does not have."""
    for part in parts:
        places = leaf.places(part.out_of_range)
        if not places:
            continue
        instrument, most = part.instrument, part.instrument.range_written
        yield leaf.finding(
            "warning",
            "out-of-range",
            f"{instrument.name}: the written {_extremes(leaf, part, places, most)} "
            f"is outside the instrument's range of {most}",
            remedy="rewrite the music there, or leave the instrument out of lesson.toml",
            notes=places,
            parts=[part],
        )


def outside_comfort(leaf: Leaf, parts: Sequence[Part]) -> Iterator[Finding]:
    """Yield one hint for all parts that leave the range that lies well at the level."""
    found = []
    for part in parts:
        beyond = set(leaf.places(part.out_of_range))
        places = [p for p in leaf.places(part.uncomfortable) if p not in beyond]
        if places:
            found.append((part, places))
    if not found:
        return
    yield leaf.finding(
        "hint",
        "uncomfortable-range",
        "the notes leave the range that lies well at this level on "
        + listed([_strained(leaf, *one, alone=len(found) == 1) for one in found]),
        remedy="rewrite these bars for the level, or set the range that you find "
        "comfortable under [[instrument]] in lesson.toml",
        notes=[place for _, places in found for place in places],
        parts=[part for part, _ in found],
    )


def _strained(leaf: Leaf, part: Part, places: Sequence[NotePlace], *, alone: bool) -> str:
    """Name an instrument, how far it has to go, and in which bars if others are named."""
    instrument = part.instrument
    comfortable = instrument.comfortable_range(part.level)
    reach = _extremes(leaf, part, places, comfortable)
    where = "" if alone else f" in {bars_words(leaf.numbers(bar for bar, _ in places))}"
    return f"{name_in_text(instrument.name)} ({comfortable} written; {reach}{where})"


def _extremes(leaf: Leaf, part: Part, places: Sequence[NotePlace], within: Range) -> str:
    """Name the lowest and the highest of the notes that lie outside a range."""
    bars = leaf.bars_of(part)
    notes = [bars[bar].notes[position] for bar, position in places]
    pitches = sorted(
        pitch
        for note in notes
        for pitch in (note.pitch, *(grace.pitch for grace in note.graces))
        if pitch is not None and within.excess(pitch)
    )
    low, high = pitches[0], pitches[-1]
    return str(low) if low.midi == high.midi else f"{low} to {high}"
