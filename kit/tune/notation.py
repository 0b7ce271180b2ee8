"""How a length is written: its note value, its tuplet, its beam.

Conventions
-----------
* Values carry their MusicXML names (``eighth``); a `Note` is one symbol, so a length that
  no single symbol has is a programmer's mistake and a ``ValueError``.
* Beams stop at rests and at felt beats. Four plain eighths in half a bar of 4/4 or 2/2
  share one beam; in 5/8 and 7/8 the last or first group has three (3+2, 2+2+3).
* A pick-up is grouped from its end, because it leads to the bar line.

Source: common practice, as in Gould, *Behind Bars* (2011), "Beaming" (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.tune.model import Bar, Meter, Note

__all__ = ["NoteValue", "beams_of", "note_value", "tuplet_groups"]

VALUE_NAMES = {
    Fraction(16): "long",
    Fraction(8): "breve",
    Fraction(4): "whole",
    Fraction(2): "half",
    Fraction(1): "quarter",
    Fraction(1, 2): "eighth",
    Fraction(1, 4): "16th",
    Fraction(1, 8): "32nd",
    Fraction(1, 16): "64th",
    Fraction(1, 32): "128th",
}
# Each dot adds half of what the one before it added.
_DOTTED = (Fraction(1), Fraction(3, 2), Fraction(7, 4), Fraction(15, 8))
_SYMBOLS = {
    length * factor: (name, dots)
    for length, name in VALUE_NAMES.items()
    for dots, factor in enumerate(_DOTTED)
}
_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4, "128th": 5}
# Without a word in the score, the groups that most players assume.
_ODD_GROUPS = {(5, 8): (3, 2), (7, 8): (2, 2, 3)}


@dataclass(frozen=True, slots=True)
class NoteValue:
    """A note symbol: its MusicXML type and its augmentation dots."""

    type: str
    dots: int = 0

    @property
    def flags(self) -> int:
        """How many flags or beams it has."""
        return _FLAGS.get(self.type, 0)

    @property
    def in_words(self) -> str:
        """The value as one says it: ``dotted quarter``."""
        dotted = ("", "dotted ", "double-dotted ", "triple-dotted ")[self.dots]
        return dotted + self.type


def note_value(duration: Fraction, tuplet: tuple[int, int] | None = None) -> NoteValue:
    """Find the symbol for a length.

    Parameters
    ----------
    duration : Fraction > 0
        In quarter notes, as it sounds.
    tuplet : (int, int), optional
        Notes played, in the time of.

    Raises
    ------
    ValueError
        If no single symbol has this length.

    Examples
    --------
    >>> note_value(Fraction(3, 2))
    NoteValue(type='quarter', dots=1)
    >>> note_value(Fraction(1, 3), (3, 2))
    NoteValue(type='eighth', dots=0)
    """
    written = duration * Fraction(*tuplet) if tuplet else duration
    if written not in _SYMBOLS:
        raise ValueError(f"no single note symbol is {duration} quarter notes long")
    return NoteValue(*_SYMBOLS[written])


def tuplet_groups(notes: Sequence[Note]) -> tuple[tuple[int, int], ...]:
    """Find the first and last position of each tuplet in a bar.

    A tuplet is full when its notes make up its number times a plain note value, and has
    at least two notes (so a dotted eighth does not pass for a whole triplet).
    """
    groups: list[tuple[int, int]] = []
    start = 0
    total = Fraction(0)
    for position, note in enumerate(notes):
        if note.tuplet is None:
            continue
        # Triplets may follow one another: a full one, or another number, parts them.
        before = notes[position - 1] if position else None
        if before is None or before.tuplet != note.tuplet or total == 0:
            start, total = position, Fraction(0)
        total += note.duration
        after = notes[position + 1] if position + 1 < len(notes) else None
        full = total / note.tuplet[1] in VALUE_NAMES and position > start
        if full or after is None or after.tuplet != note.tuplet:
            groups.append((start, position))
            total = Fraction(0)
    return tuple(groups)


def beams_of(bar: Bar) -> dict[int, tuple[str, ...]]:
    """Give each beamed note its beams, from the outermost inward.

    Returns
    -------
    dict of int to tuple of str
        Position in the bar to MusicXML beam values (``begin``, ``continue``, ``end``,
        ``forward hook``, ``backward hook``). Notes without a beam are left out.
    """
    # A pick-up of three eighths in 4/4 is the end of a bar: one and two, not two and one.
    shift = bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)
    beams: dict[int, tuple[str, ...]] = {}
    for group in _beam_groups(bar, shift):
        notes = [bar.notes[i] for i in group]
        flags = [note_value(note.duration, note.tuplet).flags for note in notes]
        beats = [_beat_start(note.onset + shift, Fraction(1)) for note in notes]
        whole_beats = bar.meter.pulse > Fraction(3, 2)
        for place, position in enumerate(group):
            beams[position] = tuple(
                _beam(flags, place, depth, beats if whole_beats and depth > 1 else None)
                for depth in range(1, flags[place] + 1)
            )
    return beams


def _beam(
    flags: Sequence[int], place: int, depth: int, beats: Sequence[Fraction] | None
) -> str:
    """Name one beam of one note; inner beams break where `beats` change."""

    def joins(other: int) -> bool:
        if not 0 <= other < len(flags) or flags[other] < depth:
            return False
        return beats is None or beats[other] == beats[place]

    before, after = joins(place - 1), joins(place + 1)
    if before and after:
        return "continue"
    if after:
        return "begin"
    if before:
        return "end"
    # The first of a group has nothing to lean back on.
    return "forward hook" if place == 0 else "backward hook"


def _beam_groups(bar: Bar, shift: Fraction) -> Iterator[list[int]]:
    """Yield the positions of notes under a common beam, two or more at a time."""
    merged = _merged_halves(bar, shift)
    group: list[int] = []
    group_start: Fraction | None = None
    for position, note in enumerate(bar.notes):
        beamable = (
            not note.is_rest
            and note.duration > 0
            and note_value(note.duration, note.tuplet).flags > 0
        )
        start = _group_start(note.onset + shift, bar.meter, merged)
        if not beamable or start != group_start:
            if len(group) > 1:
                yield group
            group = []
        group_start = start
        if beamable:
            group.append(position)
    if len(group) > 1:
        yield group


def _group_start(onset: Fraction, meter: Meter, merged: frozenset[Fraction]) -> Fraction:
    groups = _ODD_GROUPS.get((meter.beats, meter.beat_type))
    if groups:
        start = Fraction(0)
        for eighths in groups:
            if onset < start + Fraction(eighths, 2):
                break
            start += Fraction(eighths, 2)
        return start
    half = _beat_start(onset, Fraction(2))
    if half in merged:
        return half
    # A bar of 3/8 has one beam (common practice).
    if (meter.beats, meter.beat_type) == (3, 8):
        return Fraction(0)
    # Where the eighth is the beat, pairs still share a beam.
    return _beat_start(onset, max(meter.pulse, Fraction(1)))


def _merged_halves(bar: Bar, shift: Fraction) -> frozenset[Fraction]:
    """Find the half bars of 4/4 and 2/4 that hold four plain eighths."""
    if bar.meter.beat_type != 4 or bar.meter.beats % 2:
        return frozenset()
    halves: dict[Fraction, list[Note]] = {}
    for note in bar.notes:
        halves.setdefault(_beat_start(note.onset + shift, Fraction(2)), []).append(note)
    return frozenset(
        half
        for half, notes in halves.items()
        if len(notes) == 4
        # A rest, a dot or a sixteenth hides the beat, so that beams must show it again.
        and all(n.duration == Fraction(1, 2) and not n.is_rest for n in notes)
    )


def _beat_start(onset: Fraction, beat: Fraction) -> Fraction:
    return onset // beat * beat
