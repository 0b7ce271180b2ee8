"""What may an edit not go beyond: the players' range, breath, fingers and tongue?

Conventions
-----------
* Heights are concert MIDI numbers. Each instrument plays the tune in the octave that suits
  it best (`kit.instruments.transposition.write_part`); the heights that all reach in
  comfort are allowed, and those the tune has already. Beyond a third above or below the
  tune nothing is added for anyone: a level is the tune, not another register.
* A breath is taken at any rest. An edit may fill a rest only if nobody runs out of breath
  by it, at the tempo given.
* What fingers and tongue need is in seconds, so that a slow tune bears what a fast one
  does not.
* A step that lies badly for one of the players (`kit.instruments.awkward`) is not asked for
  where there is no time for it; what the tune has itself in that place stays.

Source of the seconds: common practice of wind teachers, from memory (single tonguing of
about seven to eight notes a second, a turn of four notes at twelve to sixteen a second);
the level between them is our choice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise

from kit.instruments.transposition import write_part
from kit.levels._hands import Hands
from kit.levels._player import YARDSTICK, Player
from kit.levels._tally import longest_breath
from kit.levels.rewrite import Sound, sounds_of
from kit.tune.model import Tune
from kit.tune.pitch import Pitch

__all__ = ["GRACE_S", "ORNAMENT_S", "STRUCK_S", "Limits", "limits_of"]

ORNAMENT_S = {
    "turn": 0.27, "inverted-turn": 0.27, "mordent": 0.17, "inverted-mordent": 0.17,
    "trill-mark": 0.4,
}  # fmt: skip
"""Seconds that a note must last to carry an ornament."""
GRACE_S = 0.16
"""Seconds that a note must last to have a grace note before it: an eighth of a jig as it is
danced, on which old printings have most of theirs (tests/benchmarks/printings.py)."""
STRUCK_S = 0.14
"""Seconds from one stroke of the tongue to the next on the same pitch."""
_SHORTEST_S = {"intermediate": 0.14, "advanced": 0.11}
"""How short a note may be that an edit makes."""
_BEYOND = 4
_OCTAVE = 12
_EIGHTH = Fraction(1, 2)
_WIDE_S = 0.2
"""Seconds before the worst of steps, at least: an eighth at 150."""
_NEVER_FAST = 3
_NOT_IN_A_GRACE = 2


@dataclass(frozen=True, slots=True)
class Limits:
    """What the players can do at a tempo.

    Parameters
    ----------
    low, high : int
        The lowest and highest height allowed.
    breath : Fraction or None
        The longest breath, in quarter notes.
    quarter_s : float > 0
        Seconds that a quarter note lasts.
    shortest_s : float
        Seconds that a new note lasts at least.
    hands : Hands
        How steps lie for the players.
    known : frozenset of (int, int)
        Steps, the lower height first, that the tune has in eighths, in less, or in graces.
    """

    low: int = 0
    high: int = 127
    breath: Fraction | None = None
    quarter_s: float = 0.5
    shortest_s: float = 0.0
    hands: Hands = field(default_factory=Hands)
    known: frozenset[tuple[int, int]] = frozenset()

    def allow(self, heights: Collection[int]) -> bool:
        """Whether notes of these heights, new to the tune, lie well for all players."""
        return all(self.low <= height <= self.high for height in heights)

    def joins(self, one: Pitch, other: Pitch, lasts: Fraction | None = None) -> bool:
        """Whether a new step from one pitch to another can be asked for.

        None is wider than an octave. A step of cost 3 for one of the players (the slide
        from 1st to 7th position) leaves at least an eighth for the first note, and a fifth
        of a second; so no grace note has one. A grace note has none of cost 2 either (the
        break, fingers that cross), unless the tune has that step itself in eighths, in less
        or in grace notes: its players practise it anyway.

        Parameters
        ----------
        one, other : Pitch
            At concert pitch.
        lasts : Fraction, optional
            Quarter notes that the first of them lasts, 0 for a grace note; without it there
            is all the time one likes, as where a rest comes between.
        """
        if abs(one.midi - other.midi) > _OCTAVE:
            return False
        if lasts is None:
            return True
        cost = self.hands.cost(one, other)
        if lasts == 0:
            return cost < _NOT_IN_A_GRACE or (
                cost < _NEVER_FAST and _step(one, other) in self.known
            )
        return cost < _NEVER_FAST or (lasts >= _EIGHTH and self.seconds(lasts) >= _WIDE_S)

    def seconds(self, quarters: Fraction) -> float:
        """Turn a length in quarter notes into seconds."""
        return float(quarters) * self.quarter_s

    def longest_breath(self, sounds: Sequence[Sound]) -> Fraction | None:
        """Give the longest stretch without a rest that an edit may leave, in quarters.

        Parameters
        ----------
        sounds : sequence of Sound
            Of the tune without the edit: what it asks for already is allowed.

        Returns
        -------
        Fraction or None
            None where nothing is limited.
        """
        return None if self.breath is None else max(self.breath, longest_breath(sounds))


def limits_of(
    tune: Tune, instruments: Sequence[Player], *, level: str, tempo_qpm: float
) -> Limits:
    """Work out what all the players of a tune can do at a level.

    Parameters
    ----------
    tune : Tune
        At concert pitch.
    instruments : sequence of Player
        Who plays it; with none of them range and breath are anybody's.
    level : str
        Whose comfortable range and breath.
    tempo_qpm : float > 0
        Quarter notes per minute.
    """
    sounds = sounds_of(tune)
    heights = [sound.pitch.midi for sound in sounds]
    quarter_s, shortest = 60 / tempo_qpm, _SHORTEST_S[level]
    if not heights:
        return Limits(quarter_s=quarter_s, shortest_s=shortest)
    lows, highs, breaths = [min(heights) - _BEYOND], [max(heights) + _BEYOND], []
    players = []
    for player in instruments:
        # Not from a note of the part: that note may be folded into another octave.
        up = write_part(tune, player, level=YARDSTICK).interval
        players.append((player, up))
        reach = player.comfortable_range(level)
        lows.append(reach.low.midi - up.semitones)
        highs.append(reach.high.midi - up.semitones)
        seconds = player.breath_length_s(level)
        if seconds is not None:
            breaths.append(seconds)
    breath = Fraction(min(breaths) * tempo_qpm / 60) if breaths else None
    low, high = min(*heights, max(lows)), max(*heights, min(highs))
    known = frozenset(_quick_steps(sounds))
    return Limits(low, high, breath, quarter_s, shortest, Hands(players), known)


def _quick_steps(sounds: Sequence[Sound]) -> Iterator[tuple[int, int]]:
    """Yield the steps of a tune that its players take in eighths, in less or in graces."""
    for sound in sounds:
        for one, other in pairwise((*(grace.pitch for grace in sound.graces), sound.pitch)):
            yield _step(one, other)
    for before, after in pairwise(sounds):
        if before.end == after.start and before.duration <= _EIGHTH and not after.graces:
            yield _step(before.pitch, after.pitch)


def _step(one: Pitch, other: Pitch) -> tuple[int, int]:
    return min(one.midi, other.midi), max(one.midi, other.midi)
