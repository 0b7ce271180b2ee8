"""What may an edit not go beyond: the players' range and breath?

Conventions
-----------
* Heights are concert MIDI numbers. Each instrument plays the tune in the octave that suits
  it best (`kit.levels.player.written_sheet`); the heights that all of them reach in comfort
  are allowed, and those the tune has already.
* A breath is taken at any rest. An edit may fill a rest only if nobody runs out of breath
  by it, at the tempo given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.levels.player import Player, written_sheet
from kit.levels.rewrite import Sound, sounds_of
from kit.tune.model import Tune

__all__ = ["Limits", "limits_of"]


@dataclass(frozen=True, slots=True)
class Limits:
    """The lowest and highest height allowed and the longest breath, in quarter notes."""

    low: int = 0
    high: int = 127
    breath: Fraction | None = None

    def problem(self, before: Tune, after: Tune) -> str | None:
        """Say why an edited tune is beyond the limits, None if it is not."""
        return self.height_problem(before, after) or self.breath_problem(before, after)

    def height_problem(self, before: Tune, after: Tune) -> str | None:
        """Say that new notes lie too low or too high; a part of the tune will do."""
        old, new = sounds_of(before), sounds_of(after)
        added = {sound.pitch.midi for sound in new} - {sound.pitch.midi for sound in old}
        if all(self.low <= height <= self.high for height in added):
            return None
        return "a new note lies outside a player's comfortable range"

    def breath_problem(self, before: Tune, after: Tune) -> str | None:
        """Say that there is no place left to breathe; needs the whole tune."""
        if self.breath is None:
            return None
        longest = _longest(sounds_of(after))
        if longest <= max(self.breath, _longest(sounds_of(before))):
            return None
        return "there would be no place to breathe"


def limits_of(
    tune: Tune, instruments: Sequence[Player], *, level: str, tempo_qpm: float
) -> Limits:
    """Work out what all the players of a tune can do at a level.

    Parameters
    ----------
    tune : Tune
        At concert pitch.
    instruments : sequence of Player
        Who plays it; with none of them nothing is limited.
    level : str
        Whose comfortable range and breath.
    tempo_qpm : float > 0
        Quarter notes per minute.
    """
    heights = [sound.pitch.midi for sound in sounds_of(tune)]
    if not instruments or not heights:
        return Limits()
    lows, highs, breaths = [], [], []
    for player in instruments:
        written = [sound.pitch.midi for sound in sounds_of(written_sheet(tune, player))]
        up = written[0] - heights[0]
        reach = player.comfortable_range(level)
        lows.append(reach.low.midi - up)
        highs.append(reach.high.midi - up)
        seconds = player.breath_length_s(level)
        if seconds is not None:
            breaths.append(seconds)
    breath = Fraction(min(breaths) * tempo_qpm / 60) if breaths else None
    return Limits(min(*heights, max(lows)), max(*heights, min(highs)), breath)


def _longest(sounds: Sequence[Sound]) -> Fraction:
    """Give the longest stretch without a rest, in quarter notes."""
    longest, start, end = Fraction(0), Fraction(0), Fraction(-1)
    for sound in sounds:
        if sound.start > end:
            start = sound.start
        end = sound.end
        longest = max(longest, end - start)
    return longest
