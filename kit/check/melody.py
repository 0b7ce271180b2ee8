"""Which notes of the melody clash with the changes?

What counts as a clash
----------------------
* A note a half step above a note of the chord that it is not part of: the fourth over a
  major chord, the flat ninth, the major third over a minor chord, the major seventh over a
  minor one. Over a dominant chord only a half step above its third or seventh, because the
  other altered notes are its colours. A half step above the fifth of a major or minor
  triad counts, the raised fourth does not.
* The minor third or minor seventh held over a chord with a major seventh.

Which notes are asked
---------------------
* Notes held for two felt beats, and notes of a beat or more that start on a strong beat.
* Not a note that comes early and belongs to the next chord, nor one held over from the
  last for less than a beat, nor one that goes on by step into a note of the chord
  (suspension, appoggiatura), unless it takes more than half of the chord's time.

Source: common practice of jazz teaching ("avoid notes") and of counterpoint (suspension
and appoggiatura); the limits of time are our own.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.check._leaf import Leaf, NotePlace
from kit.check.finding import Finding
from kit.form.harmony import is_dominant
from kit.levels.rewrite import bar_starts
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Tune
from kit.tune.pitch import NoteName
from kit.tune.sounding import SoundingNote, sounding

__all__ = ["Clash", "ClashIdentity", "clash_findings", "clashes", "melody_clashes"]

_HELD_BEATS = 2
_STEP = 2
_NAMES = {1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth",
          7: "seventh", 9: "ninth", 11: "eleventh", 13: "thirteenth"}  # fmt: skip


ClashIdentity = tuple[int, NoteName, ChordSymbol]
"""What makes a clash the same at two levels."""


@dataclass(frozen=True, slots=True)
class Clash:
    """A note that rubs against a chord; `number` is its printed bar."""

    place: NotePlace
    number: int
    note: NoteName
    symbol: ChordSymbol
    why: str

    @property
    def identity(self) -> ClashIdentity:
        """Bar, note and chord, wherever in the bar the note stands."""
        return self.number, self.note, self.symbol


@dataclass(frozen=True, slots=True)
class _Chord:
    """A chord from one moment of the leaf to another, in quarter notes."""

    start: Fraction
    end: Fraction
    symbol: ChordSymbol


@dataclass(frozen=True, slots=True)
class _Heard:
    """A sounding note on the leaf's own clock."""

    start: Fraction
    end: Fraction
    note: SoundingNote


def melody_clashes(leaf: Leaf) -> Iterator[Finding]:
    """Yield one hint for each note and chord that clash, with all its bars."""
    yield from clash_findings(leaf, clashes(leaf.tune))


def clash_findings(leaf: Leaf, found: Collection[Clash]) -> Iterator[Finding]:
    """Word clashes: the same note over the same chord is told once."""
    by_text: dict[str, list[Clash]] = {}
    for clash in found:
        text = f"{clash.note} over {clash.symbol} is {clash.why}"
        by_text.setdefault(text, []).append(clash)
    for text, same in by_text.items():
        yield leaf.finding(
            "hint",
            "melody-clash",
            f"{text}, and it is long enough to be heard",
            remedy="listen to it; if it is not meant, change the note or the chord",
            notes=[clash.place for clash in same],
        )


def clashes(tune: Tune) -> tuple[Clash, ...]:
    """Find the clashes of a melody with its own changes, in order."""
    starts = bar_starts(tune)
    chords = _chords(tune, starts)
    sounds = [
        _Heard(starts[n.bar] + n.onset, starts[n.bar] + n.onset + n.duration, n)
        for n in sounding(tune.bars)
    ]
    found = []
    first = 0
    for place, sound in enumerate(sounds):
        following = sounds[place + 1] if place + 1 < len(sounds) else None
        bar = tune.bars[sound.note.bar]
        while first < len(chords) and chords[first].end <= sound.start:
            first += 1
        for chord in (chords[at] for at in range(first, len(chords))):
            if chord.start >= sound.end:
                break
            why = _rub(sound.note.pitch.name, chord.symbol)
            if why and _is_heard(sound, chord, bar, following):
                at = (sound.note.bar, sound.note.position)
                name = sound.note.pitch.name
                found.append(Clash(at, bar.number, name, chord.symbol, why))
    return tuple(found)


def _chords(tune: Tune, starts: Sequence[Fraction]) -> list[_Chord]:
    events = [
        (starts[index] + event.onset, event.symbol)
        for index, bar in enumerate(tune.bars)
        for event in bar.chords
    ]
    moments = [*(start for start, _ in events), starts[-1]]
    return [
        _Chord(start, stop, symbol)
        for (start, symbol), stop in zip(events, moments[1:], strict=True)
        if stop > start
    ]


def _rub(name: NoteName, symbol: ChordSymbol) -> str:
    """Say why a note rubs against a chord, or nothing if it does not."""
    degrees = {
        note.pitch_class: degree
        for note, (degree, _) in zip(symbol.note_names, symbol.notes, strict=True)
    }
    if name.pitch_class in degrees:
        return ""
    below = degrees.get((name.pitch_class - 1) % 12)
    tender = (3, 7) if is_dominant(symbol) else (1, 3, 5, 7)
    if below is not None and below in tender:
        return f"a half step above its {_NAMES[below]}"
    above = degrees.get((name.pitch_class + 1) % 12)
    if (
        above is not None
        and above in (3, 7)
        and (7, 0) in symbol.notes
        and (3, 0) in symbol.notes
    ):
        return f"a half step below its {_NAMES[above]}"
    return ""


def _is_heard(sound: _Heard, chord: _Chord, bar: Bar, following: _Heard | None) -> bool:
    beat = bar.meter.pulse
    shared = min(sound.end, chord.end) - max(sound.start, chord.start)
    comes_early = sound.end - chord.end > shared and shared <= beat
    if shared < beat or comes_early:
        return False
    if shared < _HELD_BEATS * beat and not _is_strong(sound, chord, bar):
        return False
    long = shared >= _HELD_BEATS * beat and 2 * shared > chord.end - chord.start
    return long or not _resolves(sound, chord, following)


def _is_strong(sound: _Heard, chord: _Chord, bar: Bar) -> bool:
    """Whether it is struck, or the chord changes under it, where a bar is heavy."""
    if chord.start > sound.start:
        return True
    meter = bar.meter
    middle = meter.pulse * meter.pulses / 2 if meter.pulses % 2 == 0 else None
    return sound.note.onset == 0 or (meter.pulses >= 4 and sound.note.onset == middle)


def _resolves(sound: _Heard, chord: _Chord, following: _Heard | None) -> bool:
    if following is None or following.start != sound.end or following.start > chord.end:
        return False
    target = following.note.pitch
    inside = {name.pitch_class for name in chord.symbol.note_names}
    size = abs(target.midi - sound.note.pitch.midi)
    return 0 < size <= _STEP and (
        target.midi % 12 in inside or following.start == chord.end
    )
