"""Which rhythms may one borrow, and how are they counted aloud?

Source: phrases.toml; counting by numbers and "and" is common practice of English-speaking
music teaching.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib.resources import files

from kit.solo._limits import LEVELS
from kit.tune.model import Meter

__all__ = ["RhythmPrompt", "prompt_for", "rhythm_prompts"]


@dataclass(frozen=True, slots=True)
class RhythmPrompt:
    """A rhythm to play any notes to: onset and length of each, in quarter notes.

    An onset below zero is a pick-up.
    """

    notes: tuple[tuple[Fraction, Fraction], ...]

    def counted(self, *meters: Meter) -> str:
        """Say it as one counts it: ``1 2 & (3) & | 1``, bars parted by strokes.

        A beat in brackets is counted but not played; bars without a note between others
        are a dash, and a pick-up stands before the first stroke.

        Parameters
        ----------
        meters : Meter
            Of the bars; the last one goes on.
        """
        bars: dict[int, list[str]] = {}
        spoken: set[tuple[int, int]] = set()
        for onset, _ in self.notes:
            bar, start, meter = _bar_at(onset, meters)
            unit = Fraction(4, meter.beat_type)
            beat, rest = divmod((onset - start) / unit, 1)
            number = str(int(beat) + 1)
            if rest:
                number = "" if (bar, beat) in spoken else f"({number})"
            spoken.add((bar, beat))
            sign = "" if not rest else "&" if rest == Fraction(1, 2) else "a"
            word = " ".join(part for part in (number, sign) if part)
            bars.setdefault(bar, []).append(word)
        first, last = min([0, *bars]), max(bars, default=0)
        return " | ".join(" ".join(bars.get(k, ["–"])) for k in range(first, last + 1))


def _bar_at(onset: Fraction, meters: tuple[Meter, ...]) -> tuple[int, Fraction, Meter]:
    if onset < 0:
        return -1, -meters[0].bar_length, meters[0]
    bar, start = 0, Fraction(0)
    while True:
        meter = meters[min(bar, len(meters) - 1)]
        if onset < start + meter.bar_length:
            return bar, start, meter
        bar, start = bar + 1, start + meter.bar_length


@cache
def _prompts(level: str, role: str) -> tuple[RhythmPrompt, ...]:
    text = files("kit.solo").joinpath("phrases.toml").read_text(encoding="utf-8")
    return tuple(
        RhythmPrompt(
            tuple(
                (Fraction(beat) - 1, Fraction(length))
                for beat, length in zip(row["beats"], row["lengths"], strict=True)
            )
        )
        for row in tomllib.loads(text)["prompts"]
        if row["level"] == level and row["role"] == role
    )


def rhythm_prompts(meter: Meter) -> tuple[tuple[str, RhythmPrompt], ...]:
    """Give all rhythms to borrow with their level, from easy to hard, cut to a meter.

    Harder is what has more notes off the beat, then what has more notes.
    """
    end = 2 * meter.bar_length - (meter.pulses + 1) // 2 * meter.pulse
    found = [
        (level, _cut(prompt, end, (meter, meter)))
        for level in LEVELS
        for role in ("question", "answer")
        for prompt in _prompts(level, role)
    ]

    def hardness(item: tuple[str, RhythmPrompt]) -> tuple[int, int, int]:
        onsets = [onset for onset, _ in item[1].notes]
        off_beat = sum(onset % meter.pulse != 0 for onset in onsets)
        return [*LEVELS].index(item[0]), off_beat, len(onsets)  # type: ignore[arg-type]

    return tuple(sorted(found, key=hardness))


def prompt_for(
    level: str, role: str, turn: int, end: Fraction, meters: tuple[Meter, ...]
) -> RhythmPrompt:
    """Give the rhythm of a phrase for which the tune has none.

    Parameters
    ----------
    level, role : str
        Of the phrase.
    turn : int
        Which phrase of its section it is.
    end : Fraction
        Where its last note has to stop.
    meters : tuple of Meter
        Of its bars.
    """
    offered = _prompts(level, role)
    return _cut(offered[turn // 2 % len(offered)], end, meters)


def _cut(prompt: RhythmPrompt, end: Fraction, meters: tuple[Meter, ...]) -> RhythmPrompt:
    """Fit a rhythm of two bars of four beats to these bars, up to `end`."""
    starts = [Fraction(0)]
    for meter in meters:
        starts.append(starts[-1] + meter.bar_length)
    kept = []
    for onset, length in prompt.notes:
        place, inside = divmod(onset, 4)
        bar = int(place)
        if bar >= len(meters) or inside >= meters[bar].bar_length:
            continue
        moved = starts[bar] + inside
        if moved < end:
            kept.append((moved, min(length, end - moved, starts[bar + 1] - moved)))
    return RhythmPrompt(tuple(kept))
