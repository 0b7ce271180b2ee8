"""What could a solo at this level sound like?

A sample solo is made of the level's own advice: its scale, its guide tones and its phrase
plan. It is a draft for the teacher to edit, never more.

Conventions
-----------
* The line has the chosen sections' full bars, with their changes, numbered from 1; it is in
  the key of the sheet, concert or written.
* On strong places stand chord notes (from the scale if it has one); elsewhere the scale. A
  beginner's scale is the simple one for the section, an intermediate player's the next one,
  an advanced player's that of each chord, with half steps that lead to strong places.
* Questions end on a guide tone, answers on the root, the last phrase on the home chord's
  root if it can. The rests of the plan are kept.
* Heights stay within the sheet's own melody, a little beyond at advanced level.

Source: common practice of jazz teaching; the choices are our own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import pi, sin
from random import Random

from kit.form.sections import Form, Section
from kit.levels.clash import rubs
from kit.levels.rewrite import Sound, bar_starts, silent, sounds_of, with_sounds
from kit.levels.spots import chord_among, strong_places
from kit.levels.steps import plain
from kit.solo._line import Moment, singable_line
from kit.solo._scales import Scale, chord_scale
from kit.solo.guide import SectionScale, scale_guide
from kit.solo.guide_tones import guide_tones
from kit.solo.phrases import LevelName, Phrase, phrase_plan
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Note, Tune
from kit.tune.pitch import Interval, NoteName, Pitch

__all__ = ["call_and_response", "draft_solo", "solo_bars"]

_WIDER = {"beginner": 0, "intermediate": 2, "advanced": 4}
"""Half steps by which a solo may leave the melody's own compass."""
_SMALLEST_COMPASS = 12
_ARCH = {"beginner": 3.0, "intermediate": 4.5, "advanced": 6.0}
_LEADING_SHARE = 0.5


def draft_solo(
    sheet: Tune,
    form: Form,
    *,
    sections: Sequence[int] | None = None,
    level: LevelName = "beginner",
    seed: int = 0,
) -> Tune:
    """Write a sample solo over some sections.

    Parameters
    ----------
    sheet : Tune
        Unfolded, with changes, in any key.
    form : Form
        Its sections.
    sections : sequence of int, optional
        Places in `Form.sections`, in the order they are played; all of them unless said.
    level : "beginner", "intermediate" or "advanced"
        Whose scale and rhythms.
    seed : int
        Another seed gives another solo.

    Returns
    -------
    Tune
        Full bars with the sections' changes; bars without a chord stay silent.

    Raises
    ------
    ValueError
        For another level, or a place that the form does not have.
    """
    blank, places = solo_bars(sheet, form, sections)
    return _Soloist(sheet, form, blank, places, level, seed).solo()


def call_and_response(
    sheet: Tune,
    form: Form,
    *,
    sections: Sequence[int] | None = None,
    level: LevelName = "beginner",
    seed: int = 0,
) -> Tune:
    """Write two-bar calls with two bars of rest after each, for the student to answer.

    Takes and raises what `draft_solo` does; the calls are the questions of its phrases.
    """
    blank, places = solo_bars(sheet, form, sections)
    return _Soloist(sheet, form, blank, places, level, seed).solo(calls_only=True)


def solo_bars(
    sheet: Tune, form: Form, sections: Sequence[int] | None = None
) -> tuple[Tune, Form]:
    """Lay out silent full bars with the changes of some sections, and their form.

    Raises
    ------
    ValueError
        If a place is not in the form, or there are no sections.
    """
    places = range(len(form.sections)) if sections is None else sections
    if not places or any(not 0 <= place < len(form.sections) for place in places):
        raise ValueError(f"sections are places from 0 to {len(form.sections) - 1}")
    bars: list[Bar] = []
    laid: list[Section] = []
    for place in places:
        section = form.sections[place]
        first = len(bars)
        for index in range(section.first, section.last + 1):
            if not sheet.bars[index].pickup:
                bar = sheet.bars[index]
                # A section may begin under a chord that is written before it.
                held = sheet.chords_in_force(index) if len(bars) == first else bar.chords
                bars.append(_blank(bar, len(bars) + 1, held))
        bars[first] = replace(bars[first], section=section.label)
        laid.append(Section(section.label, first, len(bars) - 1))
    bars[-1] = replace(bars[-1], barline="final")
    title = f"{sheet.title}, sample solo" if sheet.title else "Sample solo"
    solo = replace(sheet, title=title, bars=tuple(bars), part_name="", lyricist="")
    return solo, Form(tuple(laid), form.source)


def _blank(bar: Bar, number: int, chords: tuple[ChordEvent, ...]) -> Bar:
    full = Note(Fraction(0), bar.meter.bar_length, None)
    return silent(Bar(number, (full,), chords, bar.meter, bar.key))


@dataclass(frozen=True, slots=True)
class _Slot:
    """A note to be: when, how long, over which chord, and whether the ear rests there.

    `held_over` are the chords of the strong places that it sounds through.
    """

    start: Fraction
    duration: Fraction
    chord: ChordSymbol
    strong: bool
    held_over: tuple[ChordSymbol, ...]


class _Soloist:
    """Fills blank bars with phrases, one after another."""

    def __init__(
        self, sheet: Tune, form: Form, blank: Tune, laid: Form, level: LevelName, seed: int
    ) -> None:
        self.blank = blank
        self.laid = laid
        self.level = level
        self.rng = Random(f"solo {level} {seed}")
        self.plan = phrase_plan(blank, laid, level=level)
        self.starts = bar_starts(blank)
        self.chords = blank.all_chords_in_force()
        self.scales = {item.label: item for item in scale_guide(sheet, form)}
        heights = sorted(sound.pitch.midi for sound in sounds_of(sheet)) or [60, 72]
        short = max(0, _SMALLEST_COMPASS - (heights[-1] - heights[0]))
        wider = _WIDER[level]
        self.low = heights[0] - short // 2 - wider
        self.high = heights[-1] + (short + 1) // 2 + wider

    def solo(self, *, calls_only: bool = False) -> Tune:
        sounds: list[Sound] = []
        before: Pitch | None = None
        for turn, phrase in enumerate(self.plan):
            if calls_only and phrase.role == "answer":
                continue
            last = turn == len(self.plan) - 1
            for sound in self._phrase(phrase, before, ends=last):
                sounds.append(sound)
                before = sound.pitch
        return with_sounds(self.blank, sounds)

    def _phrase(
        self, phrase: Phrase, before: Pitch | None, *, ends: bool
    ) -> Iterator[Sound]:
        places = list(self._places(phrase))
        if not places:
            return
        centre = (self.low + self.high) / 2
        # Of three phrases about two rise and fall, and one dips.
        arch = _ARCH[self.level] * self.rng.choice((1, 1, -1))
        moments = []
        for k, place in enumerate(places):
            curve = arch * sin(pi * (k + 1) / (len(places) + 1))
            final = k == len(places) - 1
            names = self._aims(phrase, place, ends=ends) if final else None
            pitches = self._in_reach(_mild(names or self._names(phrase, place), place))
            moments.append(Moment(pitches, centre + curve))
        line = singable_line(moments, before=before, rng=self.rng)
        for place, pitch in zip(places, self._led(places, list(line)), strict=True):
            yield Sound(place.start, place.duration, pitch)

    def _places(self, phrase: Phrase) -> Iterator[_Slot]:
        # The bars of a solo are numbered from 1, without a pick-up.
        first = index = phrase.numbers[0] - 1
        for onset, duration in phrase.rhythm.notes:
            moment = self.starts[first] + onset
            while moment >= self.starts[index + 1]:
                index += 1
            inside = moment - self.starts[index]
            chord = chord_among(self.chords[index], inside)
            if chord is not None and chord.note_names:
                strong = inside in strong_places(self.blank.bars[index])
                held = tuple(self._held_over(index, moment, moment + duration))
                yield _Slot(moment, duration, chord, strong, held)

    def _held_over(
        self, first: int, start: Fraction, end: Fraction
    ) -> Iterator[ChordSymbol]:
        for index in range(first, len(self.blank.bars)):
            if self.starts[index] >= end:
                return
            for onset in strong_places(self.blank.bars[index]):
                if start <= self.starts[index] + onset < end:
                    chord = chord_among(self.chords[index], onset)
                    if chord is not None:
                        yield chord

    def _scale(self, phrase: Phrase, chord: ChordSymbol) -> Scale | None:
        section: SectionScale | None = self.scales.get(phrase.label)
        if self.level == "advanced":
            key = section.key if section else self.blank.key
            return chord_scale(chord, key)
        if section is None:
            return None
        return section.scale if self.level == "beginner" else section.next_scale

    def _names(self, phrase: Phrase, slot: _Slot) -> Sequence[NoteName]:
        """Give the notes that may stand at a place, by its weight and the level's scale."""
        scale = self._scale(phrase, slot.chord)
        if scale is None:
            return slot.chord.note_names
        if not slot.strong:
            return scale.notes
        inside = [n for n in slot.chord.note_names if n.pitch_class in scale.pitch_classes]
        return inside or scale.notes

    def _aims(self, phrase: Phrase, slot: _Slot, *, ends: bool) -> Sequence[NoteName]:
        root = slot.chord.root
        assert root is not None
        if ends or phrase.role == "answer":
            return (root,)
        open_notes = [name for name in guide_tones(slot.chord) if name != root]
        return open_notes or (root,)

    def _in_reach(self, names: Sequence[NoteName]) -> tuple[Pitch, ...]:
        every = [Pitch(n.step, n.alter, octave) for n in names for octave in range(10)]
        return tuple(p for p in every if self.low <= p.midi <= self.high)

    def _led(self, places: Sequence[_Slot], line: list[Pitch]) -> list[Pitch]:
        """Lead to some strong places by a half step from below, at advanced level."""
        if self.level != "advanced":
            return line
        for k in range(1, len(line)):
            short = places[k - 1].duration <= Fraction(1, 2) and not places[k - 1].strong
            joined = places[k - 1].start + places[k - 1].duration == places[k].start
            if places[k].strong and short and joined and self.rng.random() < _LEADING_SHARE:
                target = line[k]
                scale = {name.pitch_class for name in places[k].chord.note_names}
                leading = _half_step_below(target)
                if leading.midi % 12 not in scale and leading.midi >= self.low:
                    line[k - 1] = leading
        return line


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
