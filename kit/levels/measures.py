"""What can be counted on a sheet that makes it hard to play?

Each measure has the name of its part, a figure in the unit of its row in difficulty.toml,
and words that say what was found. Measures that need an instrument come after the others.

Conventions: lengths are quarter notes; open bars (without a note) are left out of means; a
breath is taken at any rest. Grace notes count as decoration, not as speed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from kit.form.wording import counted
from kit.levels.player import YARDSTICK, Player
from kit.levels.rewrite import bar_starts, sounds_of
from kit.levels.syncopation import syncopations
from kit.tune.model import Bar, Tune

__all__ = ["Measure", "measures", "plays"]


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure for one part; `row` names the scale it is read on."""

    part: str
    figure: float
    words: str
    row: str


def measures(sheet: Tune, tempo_qpm: float, player: Player | None) -> tuple[Measure, ...]:
    """Take all the measures of a sheet, as written."""
    return tuple(_Sheet(sheet, tempo_qpm, player).every())


def plays(bar: Bar) -> bool:
    """Whether there is a note in a bar."""
    return any(note.pitch is not None for note in bar.notes)


def _none_or(number: int, noun: str) -> str:
    return counted(number, noun) if number else f"no {noun}s"


class _Sheet:
    """A sheet at a tempo, for a player or for anyone."""

    def __init__(self, sheet: Tune, tempo_qpm: float, player: Player | None) -> None:
        self.sheet = sheet
        self.tempo_qpm = tempo_qpm
        self.player = player
        self.sounds = sounds_of(sheet)
        self.bars = sum(plays(bar) for bar in sheet.bars)

    def every(self) -> Iterator[Measure]:
        yield self._speed()
        yield self._range()
        yield self._leaps()
        yield self._chromatic()
        yield self._syncopation()
        yield self._rhythm()
        yield self._key()
        yield self._decoration()
        if self.player is None:
            yield self._breath()
            return
        yield from self._breath_of(self.player)
        yield self._register(self.player)
        yield from self._crossings(self.player)

    def _seconds(self, quarters: float) -> float:
        return quarters * 60 / self.tempo_qpm

    def _speed(self) -> Measure:
        seconds = self._seconds(sum(float(sound.duration) for sound in self.sounds))
        rate = len(self.sounds) / seconds if seconds else 0.0
        words = f"{rate:.1f} notes a second while you play"
        if self.bars > 1:
            words += f", {self._busiest():.1f} in the busiest bar"
        return Measure("speed", rate, words, "speed")

    def _busiest(self) -> float:
        starts = bar_starts(self.sheet)
        attacks = [0] * len(self.sheet.bars)
        index = 0
        for sound in self.sounds:
            while sound.start >= starts[index + 1]:
                index += 1
            attacks[index] += 1
        lengths = [self._seconds(float(bar.length)) for bar in self.sheet.bars]
        return max(n / s for n, s in zip(attacks, lengths, strict=True) if s)

    def _range(self) -> Measure:
        pitches = sorted(sound.pitch for sound in self.sounds)
        if not pitches:
            return Measure("range", 0, "no notes", "range")
        span = pitches[-1].midi - pitches[0].midi
        return Measure("range", span, f"{pitches[0]} to {pitches[-1]}", "range")

    def _leaps(self) -> Measure:
        steps = [abs(b.pitch.midi - a.pitch.midi) for a, b in pairwise(self.sounds)]
        mean = sum(steps) / len(steps) if steps else 0.0
        wide = sum(step > 7 for step in steps)
        words = f"{mean:.1f} half steps from note to note"
        if wide:
            words += f", {counted(wide, 'leap')} wider than a fifth"
        return Measure("leaps", mean, words, "leaps")

    def _chromatic(self) -> Measure:
        outside = total = 0
        for bar in self.sheet.bars:
            inside = {name.pitch_class for name in bar.key.scale}
            for note in bar.notes:
                if note.pitch is not None:
                    total += 1
                    outside += note.pitch.midi % 12 not in inside
        share = 100 * outside / total if total else 0.0
        words = f"{_none_or(outside, 'note')} outside the key signature"
        return Measure("chromatic notes", share, words, "chromatic notes")

    def _syncopation(self) -> Measure:
        found = syncopations(self.sheet)
        rate = sum(item.strength for item in found) / self.bars if self.bars else 0.0
        words = _none_or(len(found), "syncopated note")
        return Measure("syncopation", rate, words, "syncopation")

    def _rhythm(self) -> Measure:
        beats = fine = 0
        for bar in self.sheet.bars:
            unit = bar.meter.pulse / (3 if bar.meter.is_compound else 2)
            cut = {
                note.onset // bar.meter.pulse
                for note in bar.notes
                if note.pitch is not None and note.onset % unit
            }
            fine += len(cut)
            beats += bar.meter.pulses if plays(bar) else 0
        share = 100 * fine / beats if beats else 0.0
        words = f"{_none_or(fine, 'beat')} with triplets or sixteenths"
        return Measure("rhythm", share, words, "rhythm")

    def _key(self) -> Measure:
        most = max((bar.key.fifths for bar in self.sheet.bars), key=abs, default=0)
        noun = "sharp" if most > 0 else "flat"
        words = counted(abs(most), noun) if most else "no sharps or flats"
        return Measure("key", abs(most), words, "key")

    def _decoration(self) -> Measure:
        decorated = sum(bool(sound.graces or sound.marks) for sound in self.sounds)
        share = 100 * decorated / len(self.sounds) if self.sounds else 0.0
        words = f"{_none_or(decorated, 'note')} with a mark or grace note"
        return Measure("decoration", share, words, "decoration")

    @cached_property
    def _longest_breath(self) -> float:
        """Seconds of the longest stretch without a rest."""
        longest = start = end = None
        for sound in self.sounds:
            if end is None or start is None or sound.start > end:
                start = sound.start
            end = sound.end
            longest = end - start if longest is None else max(longest, end - start)
        return self._seconds(float(longest or 0))

    def _breath(self) -> Measure:
        seconds = self._longest_breath
        words = f"up to {seconds:.0f} seconds without a rest"
        return Measure("breath", seconds, words, "breath")

    def _breath_of(self, player: Player) -> Iterator[Measure]:
        one = player.breath_length_s(YARDSTICK)
        if one is None:
            return
        seconds = self._longest_breath
        words = (
            f"up to {seconds:.0f} seconds without a rest, and one breath carries about "
            f"{one:.0f}"
        )
        yield Measure("breath", seconds / one, words, "breath on the instrument")

    def _register(self, player: Player) -> Measure:
        reach = player.comfortable_range(YARDSTICK)
        low, high = reach.low.midi, reach.high.midi
        out = [sound for sound in self.sounds if not low <= sound.pitch.midi <= high]
        share = 100 * len(out) / len(self.sounds) if self.sounds else 0.0
        words = f"{_none_or(len(out), 'note')} beyond {reach.low} to {reach.high}"
        return Measure("register", share, words, "register")

    def _crossings(self, player: Player) -> Iterator[Measure]:
        if not player.breaks:
            return
        count = sum(
            place.crossed_by(one.pitch, other.pitch)
            for one, other in pairwise(self.sounds)
            if other.start == one.end
            for place in player.breaks
        )
        rate = count / self.bars if self.bars else 0.0
        words = f"{_none_or(count, 'crossing')} of the break"
        yield Measure("crossings", rate, words, "crossings")
