"""What can be counted on a sheet that makes it hard to play?

Each measure has the name of its part, a figure in the unit of its row in difficulty.toml,
and words that say what was found. Measures that need an instrument come after the others.

Conventions: lengths are quarter notes; open bars (without a note) are left out of means; a
breath is taken at any rest. Grace notes count as decoration, not as speed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from kit.form.wording import counted, listed
from kit.instruments.awkward import Awkward, awkward, hands_of
from kit.levels._music import Music
from kit.levels._player import YARDSTICK, Player
from kit.levels._tally import Tally, longest_breath, tally
from kit.levels.rewrite import Sound
from kit.tune.model import Tune

__all__ = ["Measure", "awkward_steps", "figures", "measures"]

_QUICK_S = 0.3
"""A note as short as this leaves no time to make ready for what comes; an eighth at 100."""
_SLOW_S = 0.75
"""A longer note leaves so much time that nothing after it is awkward; a quarter at 80."""
_GRACE_S = 0.1


@dataclass(frozen=True, slots=True)
class Measure:
    """A figure for one part; `row` names the scale it is read on."""

    part: str
    figure: float
    words: str
    row: str


def measures(
    sheet: Tune, tempo_qpm: float, player: Player | None, before: Sound | None = None
) -> tuple[Measure, ...]:
    """Take all the measures of a sheet; the hands come from the sound before it, if any."""
    return tuple(_Sheet(sheet, tempo_qpm, player, before).every())


def figures(
    counts: Tally, *, span: int, signature: int, breath: float, tempo_qpm: float
) -> dict[str, float]:
    """Give the figures that need no instrument, by the row of the scale they are read on.

    Parameters
    ----------
    counts : Tally
        What is on the sheet.
    span : int
        Half steps from its lowest to its highest sound.
    signature : int
        The most sharps or flats of its keys.
    breath : float
        Quarter notes of its longest stretch without a rest.
    tempo_qpm : float > 0
        Quarter notes per minute.
    """
    seconds = _seconds(float(counts.quarters), tempo_qpm)
    bars, notes, sounds = counts.bars or 1, counts.notes or 1, counts.sounds or 1
    return {
        "speed": counts.sounds / seconds if seconds else 0.0,
        "range": span,
        "leaps": counts.half_steps / (counts.steps or 1),
        "chromatic notes": 100 * counts.outside / notes,
        "syncopation": counts.syncopation / bars,
        "rhythm": 100 * counts.cut / (counts.beats or 1),
        "key": signature,
        "decoration": 100 * counts.decorated / sounds,
        "breath": _seconds(breath, tempo_qpm),
    }


def _seconds(quarters: float, tempo_qpm: float) -> float:
    return quarters * 60 / tempo_qpm


def _none_or(number: int, noun: str) -> str:
    return counted(number, noun) if number else f"no {noun}s"


class _Sheet:
    """A sheet at a tempo, for a player or for anyone."""

    def __init__(
        self,
        sheet: Tune,
        tempo_qpm: float,
        player: Player | None,
        before: Sound | None = None,
    ) -> None:
        self.sheet = sheet
        self.before = before
        self.tempo_qpm = tempo_qpm
        self.player = player
        music = Music.of(sheet)
        self.starts, self.sounds = music.starts, music.sounds
        self.counts = tally(music)
        self.bars = self.counts.bars
        self.pitches = sorted(sound.pitch for sound in self.sounds)
        most = max((bar.key.fifths for bar in sheet.bars), key=abs, default=0)
        self.signature = most
        self.figures = figures(
            self.counts,
            span=self.pitches[-1].midi - self.pitches[0].midi if self.pitches else 0,
            signature=abs(most),
            breath=float(longest_breath(self.sounds)),
            tempo_qpm=tempo_qpm,
        )

    def every(self) -> Iterator[Measure]:
        yield self._of("speed", self._speed_words())
        yield self._of("range", self._range_words())
        yield self._of("leaps", self._leap_words())
        outside = _none_or(self.counts.outside, "note")
        yield self._of("chromatic notes", f"{outside} outside the key signature")
        yield self._of("syncopation", _none_or(self.counts.syncopated, "syncopated note"))
        cut = _none_or(self.counts.cut, "beat")
        yield self._of("rhythm", f"{cut} with triplets or sixteenths")
        yield self._of("key", self._key_words())
        decorated = _none_or(self.counts.decorated, "note")
        yield self._of("decoration", f"{decorated} with a mark or grace note")
        seconds = self.figures["breath"]
        if self.player is None:
            yield self._of("breath", f"up to {seconds:.0f} seconds without a rest")
            return
        yield from self._breath_of(self.player)
        yield self._register(self.player)
        yield from self._hands(self.player)

    def _of(self, part: str, words: str) -> Measure:
        return Measure(part, self.figures[part], words, part)

    def _speed_words(self) -> str:
        words = f"{self.figures['speed']:.1f} notes a second while you play"
        if self.bars > 1:
            words += f", {self._busiest():.1f} in the busiest bar"
        return words

    def _busiest(self) -> float:
        attacks = [0] * len(self.sheet.bars)
        index = 0
        for sound in self.sounds:
            while sound.start >= self.starts[index + 1]:
                index += 1
            attacks[index] += 1
        lengths = [_seconds(float(bar.length), self.tempo_qpm) for bar in self.sheet.bars]
        return max(n / s for n, s in zip(attacks, lengths, strict=True) if s)

    def _range_words(self) -> str:
        return f"{self.pitches[0]} to {self.pitches[-1]}" if self.pitches else "no notes"

    def _leap_words(self) -> str:
        words = f"{self.figures['leaps']:.1f} half steps from note to note"
        wide = self.counts.wide
        return f"{words}, {counted(wide, 'leap')} wider than a fifth" if wide else words

    def _key_words(self) -> str:
        noun = "sharp" if self.signature > 0 else "flat"
        most = abs(self.signature)
        return counted(most, noun) if most else "no sharps or flats"

    def _breath_of(self, player: Player) -> Iterator[Measure]:
        one = player.breath_length_s(YARDSTICK)
        if one is None:
            return
        seconds = self.figures["breath"]
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

    def _hands(self, player: Player) -> Iterator[Measure]:
        """Measure how often the hands have something awkward to do in little time."""
        hands = hands_of(player)
        if hands is None:
            return
        kinds: Counter[str] = Counter()
        strain = 0.0
        sounds = (*([self.before] if self.before else []), *self.sounds)
        for step, seconds in awkward_steps(sounds, self.tempo_qpm, player):
            kinds[step.kind] += 1
            strain += step.cost * min(1.0, _QUICK_S / seconds)
        count = kinds.total()
        words = _none_or(count, "awkward step")
        if count:
            most = kinds.most_common(2)
            told = [f"{number} {kind}" for kind, number in most]
            rest = count - sum(number for _, number in most)
            words += f": {listed([*told, f'{rest} other'] if rest else told)}"
        yield Measure(hands, strain / self.bars if self.bars else 0.0, words, "hands")


def awkward_steps(
    sounds: Sequence[Sound], tempo_qpm: float, player: Player
) -> Iterator[tuple[Awkward, float]]:
    """Yield what is awkward from one sound to the next, and the seconds there are for it.

    Parameters
    ----------
    sounds : sequence of Sound
        At written pitch.
    tempo_qpm : float > 0
        Quarter notes per minute.
    player : Player
        Who plays them.
    """
    for one, other in pairwise(sounds):
        # A rest between two notes gives the hands their time.
        if other.start != one.end:
            continue
        seconds = _seconds(float(one.duration), tempo_qpm)
        if seconds > _SLOW_S:
            continue
        # Grace notes are passed through: the way goes by them, in no time at all.
        pitches = [one.pitch, *(grace.pitch for grace in other.graces), other.pitch]
        for place, (low, high) in enumerate(pairwise(pitches)):
            step = awkward(low, high, player)
            if step:
                yield step, seconds if place == 0 else _GRACE_S
