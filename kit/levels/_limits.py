"""What may an edit not go beyond: the players' range and breath?

Conventions
-----------
* Heights are concert MIDI numbers. Each instrument plays the tune in the octave that suits
  it best (`kit.levels._player.written_sheet`); the heights that all reach in comfort
  are allowed, and those the tune has already.
* A breath is taken at any rest. An edit may fill a rest only if nobody runs out of breath
  by it, at the tempo given.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from fractions import Fraction

from kit.levels._player import Player, written_sheet
from kit.levels._tally import longest_breath
from kit.levels.rewrite import Sound, sounds_of
from kit.tune.model import Tune

__all__ = ["Limits", "limits_of"]


@dataclass(frozen=True, slots=True)
class Limits:
    """The lowest and highest height allowed and the longest breath, in quarter notes."""

    low: int = 0
    high: int = 127
    breath: Fraction | None = None

    def allow(self, heights: Collection[int]) -> bool:
        """Whether notes of these heights, new to the tune, lie well for all players."""
        return all(self.low <= height <= self.high for height in heights)

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
