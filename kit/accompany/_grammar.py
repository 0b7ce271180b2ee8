"""How well does a chord go with a slot's melody, with its place, and with its neighbours?

All three answers are logarithms of plausibility, so that they add up; larger is better.

Conventions
-----------
* *Melody*: each pitch class has a share under a chord, most of it the chord's own notes.
* *Place*: phrases rest on the tonic or, half way, wait on the dominant; strains end and
  begin at home.
* *Moves*: from function to function as harmony usually goes (T to anywhere, S to D, D to
  T), among the chords of a function by how usual they are. To stay is always near, and
  nearer within a bar.

Source: functions and cadences are common practice; the numbers are our own, set by hand on
the half of our marked tunes that is for tuning (``tests/reference/accompaniment``).
"""

from __future__ import annotations

import math
from functools import cache

from kit.accompany._chords import Candidate, Function, candidates, table_of
from kit.accompany._slots import SlotMusic

__all__ = ["melody_fit", "moves", "place_fit", "stays_in_bar"]

# What a note says about a chord: the root most, then third and fifth; a note of the scale
# is in passing, any other is a slip or a sign of another chord.
_ROOT, _THIRD, _FIFTH = 9.0, 8.0, 7.0
_SEVENTH = 3.5
_IN_SCALE = 1.0
_FOREIGN = 0.25
_SCALES = {
    "major": (0, 2, 4, 5, 7, 9, 11),
    # Sixth and seventh degree come in both sizes.
    "minor": (0, 2, 3, 5, 7, 8, 9, 10, 11),
    "dorian": (0, 2, 3, 5, 7, 9, 10),
    "mixolydian": (0, 2, 4, 5, 7, 9, 10),
    "lydian": (0, 2, 4, 6, 7, 9, 11),
    "phrygian": (0, 1, 3, 5, 7, 8, 10),
}

_STAY = 0.4
_STAY_IN_BAR = 0.9
_MOVES: dict[tuple[Function, Function], float] = {
    ("T", "T"): 0.30, ("T", "S"): 0.33, ("T", "D"): 0.37,
    ("S", "T"): 0.34, ("S", "S"): 0.12, ("S", "D"): 0.54,
    ("D", "T"): 0.80, ("D", "S"): 0.06, ("D", "D"): 0.14,
}  # fmt: skip
_MODAL_D_TO_S = 0.25
"""In modal tunes the ♭VII goes to IV as readily as home."""
_KEPT_PROMISE, _BROKEN_PROMISE = 2.0, -3.0
"""An applied dominant goes where it leads, or is out of place."""
_UNHEARD = -3.0
"""It is the raised note that makes it: without that in the melody another chord serves."""

_OPENS_AT_HOME = 0.8
_PHRASE_END = 1.5, 0.4
_HALF_WAY = 0.7, 1.0
"""For the tonic, and for a dominant. Of a period's two halves the first is left open."""
_STRAIN_RESTS = 1.5
_BEFORE_THE_END = 0.6
_NOT_AT_HOME = -100.0
"""More than any melody could outweigh."""


@cache
def _log_shares(mode: str, chord: Candidate) -> tuple[float, ...]:
    """Give what each pitch class over the tonic says for a chord."""
    scale = _SCALES[table_of(mode)]
    weights = [_IN_SCALE if pc in scale else _FOREIGN for pc in range(12)]
    if chord.is_dominant or chord.leads_to:
        weights[(chord.root + 10) % 12] = _SEVENTH
    for pc, weight in zip(chord.tones, (_ROOT, _THIRD, _FIFTH), strict=True):
        weights[pc] = weight
    whole = sum(weights)
    return tuple(math.log(weight / whole) for weight in weights)


def melody_fit(slot: SlotMusic, chord: Candidate) -> float:
    """Weigh a chord under the notes of a slot."""
    shares = _log_shares(slot.key.mode, chord)
    fit = sum(weight * shares[pc] for pc, weight in slot.notes)
    if chord.leads_to and all(pc != chord.tones[1] for pc, _ in slot.notes):
        fit += _UNHEARD
    return fit


def place_fit(slot: SlotMusic, chord: Candidate, *, before_end: bool) -> float:
    """Weigh a chord at its place in phrase and strain.

    `before_end` says that the next slot closes the strain.
    """
    if slot.closes and not chord.is_home:
        # Whatever the last note is: a tune is over when it is at home.
        return _NOT_AT_HOME
    fit = _OPENS_AT_HOME if slot.opens and chord.is_home else 0.0
    waits = chord.function == "D"
    if slot.closes_strain:
        fit += _STRAIN_RESTS if chord.is_home else 0.0
    elif slot.closes_phrase:
        rests, waiting = _HALF_WAY if slot.closes_half else _PHRASE_END
        fit += rests if chord.is_home else waiting if waits else 0.0
    elif before_end and waits:
        fit += _BEFORE_THE_END
    return fit


def stays_in_bar(slot: SlotMusic) -> float:
    """Give what it is worth to keep the chord into a slot, besides the step itself."""
    return _STAY_IN_BAR if slot.in_mid_bar else 0.0


@cache
def moves(mode: str) -> tuple[tuple[float, ...], ...]:
    """Weigh all steps of a mode: a row for each chord, in it one step to each chord."""
    chords = candidates(mode)
    return tuple(_steps_from(before, chords) for before in chords)


def _steps_from(before: Candidate, chords: tuple[Candidate, ...]) -> tuple[float, ...]:
    shares = [
        0.0 if chord is before else _function_step(before, chord) * chord.share
        for chord in chords
    ]
    whole = sum(shares)
    steps = []
    for chord, share in zip(chords, shares, strict=True):
        if chord is before:
            steps.append(math.log(_STAY))
            continue
        step = math.log((1 - _STAY) * share / whole)
        if before.leads_to:
            kept = before.leads_to == chord.numeral
            step += _KEPT_PROMISE if kept else _BROKEN_PROMISE
        steps.append(step)
    return tuple(steps)


def _function_step(before: Candidate, chord: Candidate) -> float:
    modal = before.function == "D" and not before.is_dominant
    if modal and chord.function == "S":
        return _MODAL_D_TO_S
    return _MOVES[before.function, chord.function]
