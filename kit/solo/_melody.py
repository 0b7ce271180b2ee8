"""How does the tune's own rhythm read at a level, note by note?

A figure of the tune may be too quick or too tricky for a beginner. Here each section is put
on the level's grid, so that what a solo takes from it can be played.

Conventions
-----------
* Moments are quarter notes on one timeline, all bars laid end to end; a place is counted
  from the bar line, in a pick-up from where its bar line would be.
* A note between two places of the grid moves back to the earlier one, so that a dotted
  eighth with a sixteenth becomes two (swung) eighths; where one stands already it goes.
* Where the level has no syncopation, a note off the beat that neither follows one on its
  beat nor leads over the bar line moves on to the next beat: an anticipation is taken back.

Source: common practice of arranging for beginners.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from hashlib import sha256

from kit.form.sections import Form, Section
from kit.levels.rewrite import Sound, bar_starts, sounds_of
from kit.solo._limits import Limits
from kit.tune.model import Bar, Meter, Tune
from kit.tune.pitch import Pitch

__all__ = ["Heard", "Melody"]


@dataclass(frozen=True, slots=True)
class Heard:
    """A note of the tune as a level plays it.

    `moment` is on the timeline, `place` in its bar, `plain` whether nothing was changed.
    """

    index: int
    moment: Fraction
    place: Fraction
    duration: Fraction
    pitch: Pitch
    plain: bool

    @property
    def end(self) -> Fraction:
        """Where it stops."""
        return self.moment + self.duration


class Melody:
    """A sheet's melody by sections, on the grid of a level.

    Parameters
    ----------
    sheet : Tune
        Unfolded, in any key.
    form : Form
        Its sections.
    limits : Limits
        What the level allows.
    """

    def __init__(self, sheet: Tune, form: Form, limits: Limits) -> None:
        self.sheet = sheet
        self.form = form
        self.limits = limits
        self._starts = bar_starts(sheet)
        self._sounds = _placed(sounds_of(sheet), self._starts)
        self._known: dict[Section, tuple[Heard, ...]] = {}

    def line(self, section: Section) -> tuple[Heard, ...]:
        """Give a section's notes, its pick-up included, as the level plays them."""
        if section not in self._known:
            first = section.first if section.pickup is None else section.pickup
            if section.pickup is None and first == 1 and self.sheet.bars[0].pickup:
                # A form that is told by ranges does not name the pick-up before it.
                first = 0
            inside = [item for item in self._sounds if first <= item[0] <= section.last]
            self._known[section] = self._fitted(inside)
        return self._known[section]

    def lines(self) -> tuple[tuple[Heard, ...], ...]:
        """Give all sections' notes."""
        return tuple(self.line(section) for section in self.form.sections)

    @property
    def fingerprint(self) -> str:
        """Tell tunes apart by their music: the same in every key and octave.

        A solo is drawn by chance from what fits, and this makes the chance the tune's own.
        """
        tonic = self.sheet.key.tonic.pitch_class
        music = [
            (index, str(sound.start), str(sound.duration), (sound.pitch.midi - tonic) % 12)
            for index, sound in self._sounds
        ]
        meters = [str(bar.meter) for bar in self.sheet.bars]
        return sha256(repr((music, meters)).encode()).hexdigest()

    def _fitted(self, sounds: Sequence[tuple[int, Sound]]) -> tuple[Heard, ...]:
        found: list[Heard] = []
        begins = {sound.start for _, sound in sounds}
        for index, sound in sounds:
            bar = self.sheet.bars[index]
            origin = self._starts[index] - _lead_in(bar)
            grid = self.limits.grid(bar.meter)
            at = _snapped(sound.start - origin, bar.meter, grid)
            if self.limits.lilts(bar.meter) and at % bar.meter.pulse == grid:
                at -= grid
            if not self.limits.off_beat and at % bar.meter.pulse:
                beat = origin + at - at % bar.meter.pulse
                # Only before the bar line: there everybody feels what it leads to.
                after = beat + bar.meter.pulse
                leads = after - origin == bar.meter.bar_length and after in begins
                if not leads and not any(h.moment == beat for h in found[-3:]):
                    at += bar.meter.pulse - at % bar.meter.pulse
            if found and origin + at < found[-1].moment + grid:
                continue
            inside = at % bar.meter.bar_length
            later = index + (at >= bar.meter.bar_length)
            length = max(grid, (sound.end - origin - at) // grid * grid)
            plain = origin + at == sound.start
            found.append(Heard(later, origin + at, inside, length, sound.pitch, plain))
        return _legato(found)


def _placed(
    sounds: Sequence[Sound], starts: Sequence[Fraction]
) -> tuple[tuple[int, Sound], ...]:
    found, index = [], 0
    for sound in sounds:
        while sound.start >= starts[index + 1]:
            index += 1
        found.append((index, sound))
    return tuple(found)


def _lead_in(bar: Bar) -> Fraction:
    return bar.meter.bar_length - bar.length if bar.pickup else Fraction(0)


def _snapped(place: Fraction, meter: Meter, grid: Fraction) -> Fraction:
    """Move a place back to the grid, which is counted anew from each beat."""
    if grid >= meter.pulse:
        return place // grid * grid
    beat = place // meter.pulse * meter.pulse
    return beat + (place - beat) // grid * grid


def _legato(notes: Sequence[Heard]) -> tuple[Heard, ...]:
    """Let each note end where the next begins, if it would reach there or nearly so."""
    found = []
    for note, after in zip(notes, [*notes[1:], None], strict=False):
        duration = note.duration
        if after is not None:
            gap = after.moment - note.moment
            duration = gap if duration >= gap / 2 else duration
        found.append(
            Heard(note.index, note.moment, note.place, duration, note.pitch, note.plain)
        )
    return tuple(found)
