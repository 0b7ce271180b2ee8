"""Which accidentals a reader has to see.

Conventions
-----------
* An accidental holds to the end of its bar, for its own octave.
* A note tied over a bar line needs none; the next note of that pitch needs it anew.
* A courtesy accidental, in parentheses, reminds where a note returns to the key after an
  accidental in the bar before, or differs from another octave in the same bar.

Source: common practice, as in Gould, *Behind Bars* (2011), "Accidentals" (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

from kit.tune.model import Bar, Note
from kit.tune.pitch import Key, Pitch

__all__ = ["Shown", "shown_accidentals"]

Shown = Literal["needed", "courtesy"]
NoteHead = tuple[int, int, int | None]


@dataclass(slots=True)
class _BarState:
    """What has been altered so far in one bar, and what was in the bar before."""

    key: dict[str, int]
    altered: dict[tuple[str, int], int] = field(default_factory=dict)
    heard: dict[str, int] = field(default_factory=dict)
    before: dict[str, int] = field(default_factory=dict)


def shown_accidentals(bars: Sequence[Bar]) -> dict[NoteHead, Shown]:
    """Say which symbols carry an accidental.

    Returns
    -------
    dict
        From (bar index, position, grace index or None) to ``needed`` or ``courtesy``;
        symbols without an accidental are left out.
    """
    shown: dict[NoteHead, Shown] = {}
    before: dict[str, int] = {}
    held: Note | None = None
    for index, bar in enumerate(bars):
        state = _BarState(_signature(bar.key), before=before)
        for position, note in enumerate(bar.notes):
            for grace, pitch in _pitches(note):
                tied_to = (
                    grace is None and held is not None and held.tied and held.pitch == pitch
                )
                # Held over the bar line: it needs no sign, and alters no later note.
                if tied_to and position == 0:
                    state.heard[pitch.step] = pitch.alter
                    continue
                verdict = None if tied_to else _verdict(pitch, state)
                if verdict:
                    shown[index, position, grace] = verdict
                state.altered[pitch.step, pitch.octave] = pitch.alter
                state.heard[pitch.step] = pitch.alter
                state.before.pop(pitch.step, None)
            held = note
        before = {
            step: alter for step, alter in state.heard.items() if alter != state.key[step]
        }
    return shown


def _verdict(pitch: Pitch, state: _BarState) -> Shown | None:
    in_force = state.altered.get((pitch.step, pitch.octave), state.key[pitch.step])
    if pitch.alter != in_force:
        return "needed"
    if (pitch.step, pitch.octave) in state.altered:
        return None
    elsewhere = state.heard.get(pitch.step, state.before.get(pitch.step, pitch.alter))
    return "courtesy" if elsewhere != pitch.alter else None


def _pitches(note: Note) -> Iterator[tuple[int | None, Pitch]]:
    if note.pitch is not None:
        yield from ((i, grace.pitch) for i, grace in enumerate(note.graces))
        yield None, note.pitch


def _signature(key: Key) -> dict[str, int]:
    return {name.step: name.alter for name in key.scale}
