"""Which notes does a planned phrase have?

Conventions
-----------
* On strong places, and where a note sounds through one, stand chord notes, from the
  level's scale if it has any; elsewhere notes of the scale, on beats rather chord notes. A
  beginner's scale is the simple one of the section, an intermediate player's the next one,
  an advanced player's that of each chord between its neighbours in playing order, so that
  a dominant that goes to minor has another one; half steps lead to strong places.
* A statement begins near where the tune has the idea and keeps its shape; a sequence keeps
  the shape elsewhere; an inversion mirrors it.
* Questions end on a guide tone, answers on the root, the last phrase on the home chord's
  root if it can.
* Heights stay within the melody's own, a little beyond at higher levels (limits.toml).

Source: common practice of jazz teaching; the choices are our own.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi, sin
from random import Random

from kit.levels.clash import rubs
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.levels.spots import chord_among, strong_places
from kit.levels.steps import plain, plain_name
from kit.solo._in_place import PlacedChord, placed_chords
from kit.solo._line import Moment, singable_line
from kit.solo._melody import Melody
from kit.solo._plan import Planned
from kit.solo._scales import Scale
from kit.solo.guide import SectionScale, scale_guide
from kit.solo.guide_tones import guide_tones
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.pitch import Interval, Key, NoteName, Pitch

__all__ = ["Played", "Soloist"]

_SMALLEST_COMPASS = 12
_ARCH = {"beginner": 3.0, "intermediate": 4.5, "advanced": 6.0}
_LEADING_SHARE = 0.5
_STEP_IN_HALVES = Fraction(12, 7)
_FOREIGN_ON_BEAT = 1.4
_FOREIGN = 0.35
_DRAWN = 0.5
_WIDEST_WAY_IN = 5
"""Half steps: nobody leaps into a note that leads on."""


@dataclass(frozen=True, slots=True)
class Played:
    """A phrase with its notes.

    `idea` are those of the idea's first appearance in it, `stated` those of the phrase that
    has stated it before, none if there is none.
    """

    plan: Planned
    sounds: tuple[Sound, ...]
    idea: tuple[Pitch, ...]
    stated: tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class _Slot:
    """A note to be: when, how long, over which chord, and whether the ear rests there.

    `held_over` are the chords of the strong places that it begins on or sounds through,
    `rests_at` the last of these places; its own start if there are none.
    """

    start: Fraction
    duration: Fraction
    chord: ChordSymbol
    strong: bool
    on_beat: bool
    held_over: tuple[ChordSymbol, ...]
    rests_at: Fraction
    step: int | None
    of: int | None
    key: Key


class Soloist:
    """Plays planned phrases, one after another."""

    def __init__(self, laid: Tune, melody: Melody, *, seed: int) -> None:
        self.laid = laid
        self.level = melody.limits.level
        self.rng = Random(f"notes {self.level} {seed} {melody.fingerprint}")
        self.starts = bar_starts(laid)
        self.chords = laid.all_chords_in_force()
        (self.placed,) = placed_chords(laid, [(0, len(laid.bars) - 1)])
        self.placed_at = [self.starts[p.change.bar] + p.change.onset for p in self.placed]
        self.has_changes = bool(self.placed)
        sheet = melody.sheet
        self.scales = {item.label: item for item in scale_guide(sheet, melody.form)}
        heights = sorted(sound.pitch.midi for sound in sounds_of(sheet)) or [60, 72]
        short = max(0, _SMALLEST_COMPASS - (heights[-1] - heights[0]))
        wider, compass = melody.limits.wider, melody.limits.compass
        low = heights[0] - short // 2 - wider
        high = heights[-1] + (short + 1) // 2 + wider
        # Where the tune goes far, a solo of few notes stays around its middle.
        middle = heights[len(heights) // 2]
        self.low = max(low, min(middle - compass // 2, high - compass))
        self.high = min(high, self.low + compass)
        self.same = melody.limits.same
        self.before: Pitch | None = None
        self.alike = 1
        self.ideas: dict[tuple[object, ...], tuple[Pitch, ...]] = {}

    def play(self, plan: Planned, *, ends: bool) -> Played:
        """Give a phrase its notes; `ends` for the last one, which goes home."""
        slots = list(self._slots(plan))
        if self.has_changes:
            # What has no chord under it is not played, and so it is not told.
            heard = {slot.start - self.starts[plan.bars[0]] for slot in slots}
            kept = tuple(s for s in plan.strokes if s.onset in heard)
            plan = replace(plan, strokes=kept, move=plan.move if kept else "rest")
        key = (plan.cell.rhythm, plan.cell.number) if plan.cell else ()
        stated = self.ideas.get(key, ())
        if not slots:
            return Played(plan, (), (), stated)
        line = self._line(plan, slots, stated, ends=ends)
        idea = tuple(p for p, s in zip(line, slots, strict=True) if s.of is not None)
        if plan.move == "state" or not stated:
            self.ideas[key] = idea
        sounds = tuple(
            # Sung as C flat, if the scale has it so, and read as B where the key has none.
            Sound(
                slot.start, slot.duration, pitch.respelled(plain_name(pitch.name, slot.key))
            )
            for slot, pitch in zip(slots, line, strict=True)
        )
        self._remember([sound.pitch for sound in sounds])
        return Played(plan, sounds, idea, stated)

    def _remember(self, pitches: Sequence[Pitch]) -> None:
        """Keep the last pitch, and how often it has come in a row."""
        for pitch in pitches:
            again = self.before is not None and pitch.midi == self.before.midi
            self.alike = self.alike + 1 if again else 1
            self.before = pitch

    def _line(
        self, plan: Planned, slots: Sequence[_Slot], stated: Sequence[Pitch], *, ends: bool
    ) -> list[Pitch]:
        centre = (self.low + self.high) / 2
        # Of three phrases about two rise and fall, and one dips.
        arch = _ARCH[self.level] * self.rng.choice((1, 1, -1))
        begin = self._begin(plan, stated)
        moments = []
        for k, slot in enumerate(slots):
            curve = arch * sin(pi * (k + 1) / (len(slots) + 1))
            names = self._names(plan, slot)
            if k == len(slots) - 1:
                names = self._aims(plan, slot, ends=ends)
            pitches = self._in_reach(_mild(names, slot))
            first = k == 0 and begin is not None
            moments.append(
                Moment(
                    pitches,
                    begin if first and begin is not None else centre + curve,
                    pull=_DRAWN if first else 0.12,
                    prices=tuple(_price(pitch, slot) for pitch in pitches),
                    shape=self._shape(plan, slot),
                )
            )
        line = list(
            singable_line(
                moments, before=self.before, alike=self.alike, most_alike=self.same,
                rng=self.rng,
            )
        )  # fmt: skip
        return self._led(slots, line)

    def _begin(self, plan: Planned, stated: Sequence[Pitch]) -> float | None:
        """Say near which height the idea begins."""
        if plan.cell is None:
            return None
        home = float(min(max(plan.cell.midi, self.low), self.high))
        if plan.move == "sequence" and stated:
            start = stated[0].midi
            moves = (-5, -4, -2, 2, 4, 5)
            reach = [by for by in moves if self.low <= start + by <= self.high]
            return float(start + self.rng.choice(reach or [0]))
        return home if plan.move == "state" else None

    def _shape(self, plan: Planned, slot: _Slot) -> int | None:
        if slot.step is None:
            return None
        size = round(slot.step * _STEP_IN_HALVES)
        return -size if plan.move == "invert" else size

    def _slots(self, plan: Planned) -> Iterator[_Slot]:
        """Place the strokes in the bars; what has no chord under it is left out."""
        begin = self.starts[plan.bars[0]]
        for stroke in plan.strokes:
            moment = begin + stroke.onset
            index = max(k for k, at in enumerate(self.starts[:-1]) if at <= moment)
            inside = moment - self.starts[index]
            chord = chord_among(self.chords[index], inside)
            if chord is None or not chord.note_names:
                continue
            end = self._end_of_changes(index, moment, moment + stroke.duration)
            bar = self.laid.bars[index]
            strong = inside in strong_places(bar)
            rests = tuple(self._held_over(index, moment, end))
            held = tuple(symbol for _, symbol in rests)
            yield _Slot(
                moment, end - moment, chord, strong or bool(held),
                inside % bar.meter.pulse == 0, held, rests[-1][0] if rests else moment,
                stroke.step, stroke.of, bar.key,
            )  # fmt: skip

    def _end_of_changes(self, first: int, start: Fraction, end: Fraction) -> Fraction:
        """Cut a note where the chords stop (N.C.)."""
        for index in range(first, len(self.laid.bars)):
            if self.starts[index] >= end:
                return end
            for event in self.chords[index]:
                at = self.starts[index] + event.onset
                if start < at < end and not event.symbol.note_names:
                    return at
        return end

    def _held_over(
        self, first: int, start: Fraction, end: Fraction
    ) -> Iterator[tuple[Fraction, ChordSymbol]]:
        for index in range(first, len(self.laid.bars)):
            if self.starts[index] >= end:
                return
            for onset in strong_places(self.laid.bars[index]):
                moment = self.starts[index] + onset
                if start <= moment < end:
                    chord = chord_among(self.chords[index], onset)
                    if chord is not None:
                        yield moment, chord

    def _standing(self, moment: Fraction) -> PlacedChord:
        """Give the chord of a moment with its neighbours."""
        return self.placed[bisect_right(self.placed_at, moment) - 1]

    def _scale(self, plan: Planned, moment: Fraction) -> Scale | None:
        section: SectionScale | None = self.scales.get(plan.label)
        if self.level == "advanced":
            key = section.key if section else self.laid.key
            return next(iter(self._standing(moment).scales(key)), None)
        if section is None:
            return None
        return section.scale if self.level == "beginner" else section.next_scale

    def _names(self, plan: Planned, slot: _Slot) -> Sequence[NoteName]:
        """Give the notes that may stand at a place, by its weight and the level's scale."""
        scale = self._scale(plan, slot.rests_at)
        if slot.strong:
            # An anticipation belongs to the chord that it is tied into.
            chord = slot.held_over[-1] if slot.held_over else slot.chord
            tones = chord.note_names or slot.chord.note_names
            if scale is None:
                return tones
            inside = [n for n in tones if n.pitch_class in scale.pitch_classes]
            return inside if len(inside) > 1 else tones
        if scale is None:
            return slot.chord.note_names
        return scale.notes

    def _aims(self, plan: Planned, slot: _Slot, *, ends: bool) -> Sequence[NoteName]:
        chord = next((c for c in reversed(slot.held_over) if c.root), slot.chord)
        root = chord.root
        assert root is not None
        if ends or plan.role == "answer":
            return (root,)
        open_notes = [
            name
            for name in guide_tones(chord, slot.key)
            if name.pitch_class != root.pitch_class
        ]
        return open_notes or (root,)

    def _in_reach(self, names: Sequence[NoteName]) -> tuple[Pitch, ...]:
        every = [Pitch(n.step, n.alter, octave) for n in names for octave in range(10)]
        return tuple(p for p in every if self.low <= p.midi <= self.high)

    def _led(self, slots: Sequence[_Slot], line: list[Pitch]) -> list[Pitch]:
        """Lead to some strong places by a half step from below, at advanced level."""
        if self.level != "advanced":
            return line
        for k in range(2, len(line)):
            slot = slots[k - 1]
            short = slot.duration <= Fraction(1, 2) and not slot.strong and slot.of is None
            joined = slot.start + slot.duration == slots[k].start
            if slots[k].strong and short and joined and self.rng.random() < _LEADING_SHARE:
                target = line[k]
                tones = {name.pitch_class for name in slots[k].chord.note_names}
                leading = _half_step_below(target)
                near = abs(leading.midi - line[k - 2].midi) in range(1, _WIDEST_WAY_IN + 1)
                if near and leading.midi % 12 not in tones and leading.midi >= self.low:
                    line[k - 1] = leading
        return line


def _price(pitch: Pitch, slot: _Slot) -> float:
    if pitch.midi % 12 in slot.chord.pitch_classes:
        return 0.0
    return _FOREIGN_ON_BEAT if slot.on_beat else _FOREIGN


def _mild(names: Sequence[NoteName], slot: _Slot) -> Sequence[NoteName]:
    """Leave out notes that rub where the ear rests; chord notes are left at the least."""
    mild = [n for n in names if not any(rubs(n.pitch_class, c) for c in slot.held_over)]
    return (
        mild
        or [
            n
            for n in slot.chord.note_names
            if not any(rubs(n.pitch_class, c) for c in slot.held_over)
        ]
        or slot.chord.note_names
    )


def _half_step_below(pitch: Pitch) -> Pitch:
    return plain(pitch + Interval(-1, -1))
