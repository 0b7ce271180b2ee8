"""Spelled pitch: what a note is called, not only how high it sounds.

Conventions
-----------
* A `NoteName` is a letter and an alteration in semitones (E flat is ``("E", -1)``).
* A `Pitch` adds the octave; octave 4 starts at middle C (scientific pitch notation),
  MIDI number 60 (MIDI 1.0 specification).
* An `Interval` is counted in diatonic steps and in semitones, both signed, so that a
  transposition keeps the spelling right without any look-up.
* The *line of fifths* puts names in a row, ... F C G D A E B F# ..., with C at 0. Key
  signatures and spellings are both positions on it.

Sources: common practice; the line of fifths as in Temperley, *The Cognition of Basic
Musical Structures* (2001), ch. 5 (from memory).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import total_ordering
from typing import Self

__all__ = ["Interval", "Key", "NoteName", "Pitch"]

STEPS = "CDEFGAB"
_STEP_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_STEP_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
_FIFTHS_STEP = {fifths: step for step, fifths in _STEP_FIFTHS.items()}
_ALTER_TEXT = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_ALTER_WORDS = {-2: " double flat", -1: " flat", 0: "", 1: " sharp", 2: " double sharp"}
# Both keyboards and music fonts: files write b and #, pages ♭ and ♯, old ones x and 𝄪.
_ACCIDENTALS = {
    "": 0, "b": -1, "♭": -1, "bb": -2, "𝄫": -2, "♭♭": -2,
    "#": 1, "♯": 1, "##": 2, "x": 2, "𝄪": 2, "♯♯": 2, "♮": 0,
}  # fmt: skip
# Double signs first, or "Bb" would be found in "Bbb" and a b left over.
_NAME = re.compile(r"([A-Ga-g])(♭♭|♯♯|bb|##|[b♭𝄫#♯x𝄪♮]?)")
_PITCH = re.compile(_NAME.pattern + r"(-?\d{1,2})")


@dataclass(frozen=True, slots=True)
class NoteName:
    """A note's letter and alteration, in no particular octave."""

    step: str
    alter: int = 0

    @classmethod
    def parse(cls, text: str) -> NoteName:
        """Read a name such as ``Bb``, ``F#`` or ``E♭``.

        Raises
        ------
        ValueError
            If the text is not a note name.
        """
        match = _NAME.fullmatch(text.strip())
        if match is None:
            raise ValueError(f"{text!r} is not a note name")
        return cls(match[1].upper(), _ACCIDENTALS[match[2]])

    @classmethod
    def from_fifths(cls, fifths: int) -> NoteName:
        """Give the name at a place on the line of fifths (C is 0, G is 1, F is -1)."""
        # The naturals run from F to B; seven fifths further each has one sharp more.
        alter, place = divmod(fifths + 1, 7)
        return cls(_FIFTHS_STEP[place - 1], alter)

    @property
    def fifths(self) -> int:
        """Place on the line of fifths, C at 0."""
        return _STEP_FIFTHS[self.step] + 7 * self.alter

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (_STEP_SEMITONES[self.step] + self.alter) % 12

    @property
    def in_words(self) -> str:
        """The name as one says it: ``B flat``."""
        return self.step + _alteration(self.alter, _ALTER_WORDS, " flat", " sharp")

    def __add__(self, interval: Interval) -> NoteName:
        """Move by an interval, octaves ignored."""
        return NoteName.from_fifths(self.fifths + interval.fifths)

    def __str__(self) -> str:
        """Print with real accidental signs: ``B♭``."""
        return self.step + _alteration(self.alter, _ALTER_TEXT, "♭", "♯")


def _alteration(alter: int, table: dict[int, str], flat: str, sharp: str) -> str:
    # There is no sign beyond the double, but a transposition can bring a triple.
    return table.get(alter, (flat if alter < 0 else sharp) * abs(alter))


@total_ordering
@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch in an octave; ordered by sound, then by letter."""

    step: str
    alter: int
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read a pitch such as ``Bb4`` or ``F♯5``.

        Raises
        ------
        ValueError
            If the text is not a pitch.

        Examples
        --------
        >>> Pitch.parse("Bb4").midi
        70
        """
        match = _PITCH.fullmatch(text.strip())
        if match is None:
            raise ValueError(f"{text!r} is not a pitch such as Bb4")
        return cls(match[1].upper(), _ACCIDENTALS[match[2]], int(match[3]))

    @property
    def name(self) -> NoteName:
        """The pitch without its octave."""
        return NoteName(self.step, self.alter)

    @property
    def midi(self) -> int:
        """MIDI note number, middle C = 60."""
        # MIDI number 0 is the C of octave -1.
        return 12 * (self.octave + 1) + _STEP_SEMITONES[self.step] + self.alter

    @property
    def diatonic(self) -> int:
        """Staff position in steps, C0 = 0, alteration ignored."""
        return 7 * self.octave + STEPS.index(self.step)

    @property
    def in_words(self) -> str:
        """The pitch as one says it: ``B flat 4``."""
        return f"{self.name.in_words} {self.octave}"

    def respelled(self, name: NoteName) -> Pitch:
        """Give the same sound under another name.

        Raises
        ------
        ValueError
            If the name does not sound the same.
        """
        if name.pitch_class != self.midi % 12:
            raise ValueError(f"{name} does not sound like {self}")
        # The octave is that of the letter: B sharp 3 sounds as C4, C flat 5 as B4.
        natural = self.midi - name.alter - _STEP_SEMITONES[name.step]
        return Pitch(name.step, name.alter, natural // 12 - 1)

    def __add__(self, interval: Interval) -> Pitch:
        """Move by an interval, keeping the spelling right."""
        # Steps give the letter, semitones the sound; the alteration makes up for the rest.
        diatonic = self.diatonic + interval.steps
        octave, index = divmod(diatonic, 7)
        natural = 12 * (octave + 1) + _STEP_SEMITONES[STEPS[index]]
        return Pitch(STEPS[index], self.midi + interval.semitones - natural, octave)

    def __sub__(self, other: Pitch) -> Interval:
        """Give the interval from `other` up to this pitch (negative if below)."""
        return Interval(self.diatonic - other.diatonic, self.midi - other.midi)

    def __lt__(self, other: Pitch) -> bool:
        """Compare by sound, then by staff position."""
        # By sound alone E♯ and F would be equal, and sorting would not be the same twice.
        return (self.midi, self.diatonic) < (other.midi, other.diatonic)

    def __str__(self) -> str:
        """Print with real accidental signs: ``B♭4``."""
        return f"{self.name}{self.octave}"


# Unison, fourth and fifth, as steps: they are never major or minor.
_PERFECT = (0, 3, 4)
# Those of the major scale: its seconds, thirds, sixths and sevenths are the major ones.
_SIMPLE_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
_INTERVAL = re.compile(r"(-?)([PMmAd]|AA|dd)(\d{1,2})")


@dataclass(frozen=True, slots=True)
class Interval:
    """A distance in diatonic steps and semitones, positive upward."""

    steps: int
    semitones: int

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read an interval such as ``M9``, ``m3``, ``P5`` or ``-M2``.

        Raises
        ------
        ValueError
            If the text names no interval.

        Examples
        --------
        >>> Interval.parse("M9")
        Interval(steps=8, semitones=14)
        """
        match = _INTERVAL.fullmatch(text.strip())
        if match is None or int(match[3]) == 0:
            raise ValueError(f"{text!r} is not an interval such as M6 or -P8")
        steps = int(match[3]) - 1
        octaves, simple = divmod(steps, 7)
        perfect = simple in _PERFECT
        quality = match[2]
        # No fifth is major, no third perfect; any interval may be augmented or diminished.
        if (quality == "P") != perfect and quality in "PMm":
            raise ValueError(f"{text!r} is not an interval: no such quality")
        shift = {"P": 0, "M": 0, "m": -1, "A": 1, "AA": 2}.get(quality)
        if shift is None:
            # Diminished lies below perfect, but below minor: a semitone more.
            shift = -len(quality) if perfect else -len(quality) - 1
        semitones = 12 * octaves + _SIMPLE_SEMITONES[simple] + shift
        sign = -1 if match[1] else 1
        return cls(sign * steps, sign * semitones)

    @property
    def fifths(self) -> int:
        """How far the interval moves along the line of fifths."""
        # Linear, so two cases fix it: 1 for a fifth (4 steps, 7 semitones), 0 for octaves.
        return 7 * self.semitones - 12 * self.steps

    @property
    def name(self) -> str:
        """The usual short name: ``M9``, ``-P8``."""
        # Steps decide first: a diminished second has one and no semitone.
        sign = "-" if (self.steps, self.semitones) < (0, 0) else ""
        steps = -self.steps if sign else self.steps
        semitones = -self.semitones if sign else self.semitones
        octaves, simple = divmod(steps, 7)
        shift = semitones - 12 * octaves - _SIMPLE_SEMITONES[simple]
        if simple in _PERFECT:
            quality = "P" if shift == 0 else ("A" * shift or "d" * -shift)
        else:
            quality = {0: "M", -1: "m"}.get(shift) or ("A" * shift or "d" * (-shift - 1))
        return f"{sign}{quality}{steps + 1}"

    def __add__(self, other: Interval) -> Interval:
        """Stack two intervals."""
        return Interval(self.steps + other.steps, self.semitones + other.semitones)

    def __neg__(self) -> Interval:
        """Turn the interval round."""
        return Interval(-self.steps, -self.semitones)

    def __str__(self) -> str:
        """Print the short name."""
        return self.name


_MINOR_MODES = frozenset({"minor", "aeolian", "dorian", "phrygian", "locrian"})
# From the major tonic of the same signature to the mode's: A minor lies 3 from C.
_MODE_TONIC_FIFTHS = {
    "lydian": -1, "major": 0, "ionian": 0, "mixolydian": 1, "dorian": 2,
    "minor": 3, "aeolian": 3, "phrygian": 4, "locrian": 5,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Key:
    """A key signature (sharps positive, flats negative) with its mode."""

    fifths: int
    mode: str = "major"

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a key such as ``C minor``, ``Bb major`` or ``D dorian``.

        Raises
        ------
        ValueError
            If the text names no key.
        """
        tonic, _, mode = text.strip().partition(" ")
        mode = mode.strip().lower() or "major"
        if mode not in _MODE_TONIC_FIFTHS:
            raise ValueError(f"{text!r} is not a key such as C minor")
        return cls(NoteName.parse(tonic).fifths - _MODE_TONIC_FIFTHS[mode], mode)

    @property
    def tonic(self) -> NoteName:
        """The note the key is named after."""
        # A mode without a third of its own ("none", an odd file) is named as major.
        return NoteName.from_fifths(self.fifths + _MODE_TONIC_FIFTHS.get(self.mode, 0))

    @property
    def is_minor(self) -> bool:
        """Whether the third above the tonic is minor."""
        return self.mode in _MINOR_MODES

    @property
    def name(self) -> str:
        """The key in words, ASCII accidentals: ``Bb major``, as in the manifest."""
        # A key beyond two signs has no name: parts respell it before it is printed.
        alter = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}[self.tonic.alter]
        return f"{self.tonic.step}{alter} {self.mode}"

    @property
    def scale(self) -> tuple[NoteName, ...]:
        """The seven notes of the signature, from the tonic upward."""
        # Seven neighbours on the line of fifths are a major scale: F to B that of C.
        ring = [NoteName.from_fifths(self.fifths + place) for place in range(-1, 6)]
        start = STEPS.index(self.tonic.step)
        by_step = {name.step: name for name in ring}
        return tuple(by_step[STEPS[(start + i) % 7]] for i in range(7))

    def __add__(self, interval: Interval) -> Key:
        """Move the key by an interval (the signature may pass seven accidentals)."""
        # Not respelled here: a tune and its chords must move together, or they part ways.
        return Key(self.fifths + interval.fifths, self.mode)

    def __str__(self) -> str:
        """Print with real accidental signs: ``B♭ major``."""
        return f"{self.tonic} {self.mode}"
