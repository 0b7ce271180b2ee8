"""Who plays the melody: which sound, how long a breath, how much vibrato?"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Soloist"]


@dataclass(frozen=True, slots=True)
class Soloist:
    """The melody player.

    Parameters
    ----------
    program : int, 0 to 127
        General MIDI program, counted from 0 (alto sax is 65).
    breath_s : float, optional
        How long a breath lasts, in seconds; None for who needs none.
    vibrato_cents : float
        Depth of the vibrato of long notes, each way; 0 for a straight tone.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    program: int = 65
    breath_s: float | None = None
    vibrato_cents: float = 11.0

    def __post_init__(self) -> None:
        """Check the numbers."""
        if not 0 <= self.program <= 127:
            raise ValueError(f"a program must be 0 to 127, not {self.program}")
        if self.breath_s is not None and not self.breath_s > 0:
            raise ValueError(f"a breath must last longer than {self.breath_s} s")
        if not 0 <= self.vibrato_cents <= 100:
            raise ValueError(f"vibrato must be 0 to 100 cents, not {self.vibrato_cents}")
