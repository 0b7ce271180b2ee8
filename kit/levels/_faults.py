"""What would a teacher strike out of a finished sheet?

Each rule looks at the music as it is, never at an edit, and names places. What the tune had
before an edit is its own affair: only what is new counts (`new_faults`).

Rules
-----
* An ornament, a grace note or a note has the seconds that fingers and tongue need.
* A grace note is not the note just played, and an added note does not say its neighbour
  twice; a note carries one ornament.
* Notes stand on the beat's grid, and a note off the grid does not hide the next beat.
* Where dotted pairs are the dance's step (marches, hornpipes) they stay.
* A held note does not lie a half step above or below a note of the chord, unless it comes
  early and belongs to the chord that it is held into.
* A note that leaves the key and the chord goes on by a half step.
* No leap is wider than an octave; a fall needs a rest behind it.
* No step lies so badly for a player that there is no time for it (`Limits.joins`).

Sources: common practice; the seconds are in `kit.levels._limits`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from kit.levels._limits import GRACE_S, ORNAMENT_S, STRUCK_S, Limits
from kit.levels._music import Music
from kit.levels.idioms import Idiom, dotted_pairs
from kit.levels.rewrite import Sound
from kit.levels.steps import step_from
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, Meter
from kit.tune.pitch import Key

__all__ = ["Fault", "Reading", "lies_beside", "new_faults", "on_the_grid", "read_again"]

Fault = tuple[str, Fraction, int]
"""The rule, the moment in quarter notes from the start of the music, and a pitch or 0."""

_ORNAMENT_STEPS = {
    "turn": (1, -1), "inverted-turn": (1, -1), "mordent": (-1,), "inverted-mordent": (1,),
    "trill-mark": (1,),
}  # fmt: skip
"""On which sides of its note an ornament has another."""
_SIGNS = frozenset({*ORNAMENT_S, "scoop", "doit", "plop", "falloff", "ghost"})
_FALLS = frozenset({"falloff", "doit"})
_HELD_S = 0.28
"""A note that sounds with a chord for so long, or for a beat, is heard as part of it; at
slower levels it lasts longer still."""
_STRUCK_TOGETHER_S = 0.24
"""So long, if both begin at once."""
_SHORT = frozenset({"staccato", "staccatissimo"})
_WIDE_STEP = 2
_NO_TIME_S = 0.1
_EIGHTH = Fraction(1, 2)
_GRACE = Fraction(0)
_BEFORE_GRACE = Fraction(1, 4)


class Reading:
    """The faults of some music, and what an edit must keep.

    Parameters
    ----------
    music : Music
        What is read.
    limits : Limits
        What the players can do.
    idiom : Idiom
        What a teacher expects.
    places : range, optional
        Which of its sounds are looked at; all of them unless said.
    """

    def __init__(
        self, music: Music, limits: Limits, idiom: Idiom, places: range | None = None
    ) -> None:
        self._music = music
        self._places = range(len(music.sounds)) if places is None else places
        self._limits = limits
        self._chords = [
            (music.starts[index] + event.onset, event.symbol)
            for index, bar in enumerate(music.tune.bars)
            for event in bar.chords
        ]
        self._moments = [moment for moment, _ in self._chords]
        self.faults: frozenset[Fault] = frozenset(self._all())
        self.steps: frozenset[tuple[Fraction, Fraction]] = frozenset(
            (sound.start, sound.duration)
            for pair in (dotted_pairs(music) if idiom.lilt else ())
            for sound in pair
        )
        self.values = frozenset((sound.start, sound.duration) for sound in music.sounds)

    def _all(self) -> Iterator[Fault]:
        music = self._music
        bars, starts, sounds = music.tune.bars, music.starts, music.sounds
        index = 0
        for place in self._places:
            sound = sounds[place]
            while sound.start >= starts[index + 1]:
                index += 1
            bar = bars[index]
            after = sounds[place + 1] if place + 1 < len(sounds) else None
            yield from self._alone(sound, bar, sound.start - starts[index])
            yield from self._in_the_hands(sound, bar.key)
            if place:
                yield from self._pair(sounds[place - 1], sound)
            yield from self._with_chords(sound, after, bar)

    def _alone(self, sound: Sound, bar: Bar, onset: Fraction) -> Iterator[Fault]:
        limits, at, midi = self._limits, sound.start, sound.pitch.midi
        lasts = limits.seconds(sound.duration)
        for mark in sound.marks:
            if lasts < ORNAMENT_S.get(mark, 0.0):
                yield f"{mark} without time", at, midi
        if sound.graces:
            if lasts < GRACE_S:
                yield "grace without time", at, midi
            if sound.graces[-1].pitch.midi == midi:
                yield "grace on its own note", at, midi
            # In minor a scale step can be an augmented second, over which nobody slides.
            if any(
                abs(grace.pitch.midi - midi) > _WIDE_STEP for grace in sound.graces[-1:]
            ):
                yield "grace too far away", at, midi
        if len(_SIGNS.intersection(sound.marks)) + bool(sound.graces) > 1:
            yield "two ornaments", at, midi
        if "accent" in sound.marks and "ghost" in sound.marks:
            yield "two ornaments", at, midi
        if _SHORT.intersection(sound.marks) and not ORNAMENT_S.keys().isdisjoint(
            sound.marks
        ):
            yield "ornament on a short note", at, midi
        if lasts < limits.shortest_s:
            # The value belongs to the fault: a note that was short may not get shorter.
            yield f"too fast {sound.duration}", at, 0
        if bar.pickup:
            onset += bar.meter.bar_length - bar.length
        if not on_the_grid(onset, sound.duration, bar.meter):
            yield f"off the grid {sound.duration}", at, 0

    def _in_the_hands(self, sound: Sound, key: Key) -> Iterator[Fault]:
        """Look at the way through grace notes, and at the notes of an ornament."""
        joins, at, midi = self._limits.joins, sound.start, sound.pitch.midi
        for one, other in pairwise((*(g.pitch for g in sound.graces), sound.pitch)):
            if not joins(one, other, _GRACE):
                yield f"grace lies badly from {one.midi}", at, other.midi
        for mark in sound.marks:
            for direction in _ORNAMENT_STEPS.get(mark, ()):
                beside = step_from(sound.pitch, direction, key, chromatic=False)
                # There are fingerings for trills over a break, none for a long slide.
                if not joins(sound.pitch, beside, _BEFORE_GRACE):
                    yield f"{mark} lies badly", at, midi

    def _pair(self, one: Sound, other: Sound) -> Iterator[Fault]:
        limits, at = self._limits, other.start
        gap = other.start - one.end
        same = one.pitch.midi == other.pitch.midi
        goal = other.graces[0].pitch if other.graces else other.pitch
        if gap < 1 and not limits.joins(one.pitch, other.pitch):
            yield f"leap from {one.pitch.midi}", at, other.pitch.midi
        # The hands leave for a grace note late, however long the note before it is.
        lasts = min(one.duration, _BEFORE_GRACE) if other.graces else one.duration
        if gap == 0 and not limits.joins(one.pitch, goal, lasts):
            yield f"lies badly from {one.pitch.midi}", at, goal.midi
        if limits.seconds(gap) < _NO_TIME_S:
            if other.graces and other.graces[0].pitch.midi == one.pitch.midi:
                yield "grace says the note before", at, other.pitch.midi
            # A grace note is stolen from the note before it, which must be there.
            if other.graces and limits.seconds(one.duration) < limits.shortest_s:
                yield "grace without time", at, other.pitch.midi
        if gap == 0:
            if any(mark in ORNAMENT_S and mark in one.marks for mark in other.marks):
                yield "same ornament twice running", at, 0
            if same and limits.seconds(one.duration) < STRUCK_S:
                yield "struck again too fast", at, 0
            if _FALLS.intersection(one.marks):
                yield "fall without air", one.start, one.pitch.midi

    def _with_chords(self, sound: Sound, after: Sound | None, bar: Bar) -> Iterator[Fault]:
        pitch_class = sound.pitch.midi % 12
        first = max(0, bisect_right(self._moments, sound.start) - 1)
        under: list[tuple[Fraction, ChordSymbol]] = []
        for moment, symbol in self._chords[first:]:
            if moment >= sound.end:
                break
            under.append((moment, symbol))
        if not under or under[0][0] > sound.start:
            tones: frozenset[int] = frozenset()
        else:
            tones = under[0][1].pitch_classes
        if pitch_class not in tones | _scale(bar.key) and not (
            after is not None
            and after.start == sound.end
            and abs(after.pitch.midi - sound.pitch.midi) == 1
        ):
            yield "chromatic note not led on", sound.start, sound.pitch.midi
        if not under or _comes_early(sound, *under[-1]):
            return
        for place, (moment, symbol) in enumerate(under):
            begin = max(moment, sound.start)
            end = under[place + 1][0] if place + 1 < len(under) else sound.end
            lasts = self._limits.seconds(end - begin)
            held = end - begin >= 1 or lasts >= _HELD_S
            together = moment == sound.start and lasts >= _STRUCK_TOGETHER_S
            if (held or together) and lies_beside(pitch_class, symbol):
                yield "rubs", begin, sound.pitch.midi


def _comes_early(sound: Sound, moment: Fraction, symbol: ChordSymbol) -> bool:
    """Whether a note is of the chord that it is held into, and a beat ahead at most."""
    ahead = moment - sound.start
    return 0 < ahead < 1 and sound.pitch.midi % 12 in symbol.pitch_classes


def read_again(before: Reading, music: Music, limits: Limits, idiom: Idiom) -> Reading:
    """Read the same bars after an edit, as far as sounds and chords have changed."""
    _, head, tail = music.changed_from(before._music)
    first, last = max(0, head - 1), min(len(music.sounds), len(music.sounds) - tail + 1)
    for index, bar in enumerate(music.tune.bars):
        if bar.chords != before._music.tune.bars[index].chords:
            return Reading(music, limits, idiom)
    return Reading(music, limits, idiom, range(first, last))


def new_faults(before: Reading, after: Reading, *, said_twice: bool) -> bool:
    """Whether music has got faults that it had not.

    Parameters
    ----------
    before, after : Reading
        The same bars.
    said_twice : bool
        Whether the change adds notes, which must not only repeat their neighbours.
    """
    if after.faults - before.faults or before.steps - after.values:
        return True
    return said_twice and bool(_twice(after) - _twice(before))


def _twice(reading: Reading) -> set[tuple[Fraction, int]]:
    sounds = reading._music.sounds
    return {
        (other.start, other.pitch.midi)
        for one, other in pairwise(sounds)
        if one.end == other.start and one.pitch.midi == other.pitch.midi
    }


@lru_cache(maxsize=10_000)
def lies_beside(pitch_class: int, symbol: ChordSymbol) -> bool:
    """Whether a pitch class is foreign to a chord and a half step from one of its notes."""
    tones = symbol.pitch_classes
    return pitch_class not in tones and bool(
        {(pitch_class + 1) % 12, (pitch_class - 1) % 12} & tones
    )


@lru_cache(maxsize=10_000)
def on_the_grid(onset: Fraction, duration: Fraction, meter: Meter) -> bool:
    """Whether a note stands where a reader finds it.

    A beat is cut in two, four or three, a compound one in three or six; a note that begins
    between the halves (or thirds) ends with its beat.

    Parameters
    ----------
    onset, duration : Fraction
        Quarter notes, from the start of the full bar.
    meter : Meter
        In force.
    """
    if meter.is_compound:
        part = onset % _EIGHTH
        if not part:
            return True
        return 4 * part == 1 and onset + duration <= onset - part + _EIGHTH
    beat = min(meter.pulse, Fraction(1))
    place = onset % beat
    if (2 * place) % beat == 0:
        return True
    end = onset - place + beat
    if (4 * place) % beat == 0:
        return onset + duration <= end
    # A triplet fills its beat, or two beats.
    third = beat / 3
    return place % third == 0 and duration % third == 0


@lru_cache(maxsize=64)
def _scale(key: Key) -> frozenset[int]:
    return frozenset(name.pitch_class for name in key.scale)
