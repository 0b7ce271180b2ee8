"""Which rows of chords does the ear take whole? Chains of dominants, the blues, vamps.

Grading chord by chord would hear a key in each chord of a chain, the fourth in a blues, and
a dominant without its tonic in a vamp.

Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby, pairwise

from kit.form._chord_in_key import Candidate, Heard, is_tonic

__all__ = ["Vamp", "blues_tonic", "chain_goal", "vamp"]

_LEADS_ON = (5, 11)
"""Semitones up to where a dominant leads: down a fifth, or as a substitute a half step."""
_MODES = (
    ("major", frozenset({0, 2, 4, 5, 7, 9, 11})),
    ("minor", frozenset({0, 2, 3, 5, 7, 8, 10})),
    ("mixolydian", frozenset({0, 2, 4, 5, 7, 9, 10})),
    ("dorian", frozenset({0, 2, 3, 5, 7, 9, 10})),
    ("lydian", frozenset({0, 2, 4, 6, 7, 9, 11})),
    ("phrygian", frozenset({0, 1, 3, 5, 7, 8, 10})),
)


@dataclass(frozen=True, slots=True)
class Vamp:
    """Two chords back and forth: their tonic as a pitch class, and their mode."""

    tonic: int
    mode: str
    at_home: bool


def chain_goal(row: Sequence[Heard], home: int) -> int | None:
    """Give the pitch class that a chain of dominants leads to, None if it is no chain.

    A last dominant that leads to the home tonic, by fifth or half step, leads there.

    At least three dominants, each leading to the next, and nothing beside them but the ii
    of one. A chain that comes to rest belongs to the key it rests in, and is none.
    """
    dominants: list[int] = []
    for place, chord in enumerate(row):
        if chord.leads:
            dominants.append(place)
            continue
        after = row[place + 1] if place + 1 < len(row) else None
        is_two = chord.kind in ("minor", "half-diminished")
        if not is_two or after is None or not after.leads or chord.up_to(after) != 5:
            return None
    roots = [root for root, _ in groupby(row[place].root for place in dominants)]
    # A ii–V said twice is one link of the chain, not two.
    if len(roots) < 3 or any((b - a) % 12 not in _LEADS_ON for a, b in pairwise(roots)):
        return None
    if (home - roots[-1]) % 12 in _LEADS_ON:
        return home
    return (roots[-1] + 5) % 12


def blues_tonic(row: Sequence[Heard], home: int) -> int | None:
    """Give the tonic of a blues as a pitch class, None if the row is no blues.

    Its tonic is a dominant at rest: it holds a quarter of the time or more, is come back to
    from the fourth or the fifth, and does not go on to a plain chord a fifth below as its
    dominant. Elsewhere than at home it must hold longer than the home chord, come first,
    have its fourth and its fifth, and end at home or on the fifth.
    """
    time = sum(chord.length for chord in row)
    held = {
        tonic: sum(c.length for c in row if c.leads and c.root == tonic)
        for tonic in (home, row[0].root)
    }
    tonic = max(held, key=lambda root: held[root])
    leaves = returns = False
    for one, two in pairwise(row):
        if one.leads and one.root == tonic and one.up_to(two) == 5:
            leaves = leaves or two.kind in ("major", "minor")
        if two.leads and two.root == tonic:
            returns = returns or one.up_to(two) in (5, 7)
    degrees = {(chord.root - tonic) % 12 for chord in row if chord.leads}
    ends = (row[-1].root - tonic) % 12 in (0, 7)
    if tonic != home and not (ends and {5, 7} <= degrees):
        return None
    return tonic if returns and not leaves and 4 * held[tonic] >= time else None


def vamp(row: Sequence[Heard], home: Candidate) -> Vamp | None:
    """Hear a vamp of two chords, None if the row is none.

    Where one of them is the tonic that the signature names, it is the tonic of the vamp.
    Elsewhere it is the first, in the mode that holds the notes of both. None too for what
    grading hears better: the ii and V of home, or a chord and its own dominant.
    """
    chords = {(chord.root, chord.kind) for chord in row}
    if len(chords) != 2 or len(row) < 4:
        return None
    first, second = (
        row[0],
        next(c for c in row if c.root != row[0].root or c.kind != row[0].kind),
    )
    if any(is_tonic(chord, home) for chord in (first, second)):
        return Vamp(home.tonic, home.mode, at_home=True)
    for one, two in ((first, second), (second, first)):
        if one.kind in ("dominant", "major") and one.up_to(two) == 5 and not two.leads:
            return None
    degrees = {(chord.root - home.tonic) % 12 for chord in (first, second)}
    if not home.is_minor and degrees == {2, 7}:
        return None
    tones = {(tone - first.root) % 12 for chord in row for tone in chord.tones}
    mode = next((mode for mode, scale in _MODES if tones <= scale), None)
    return None if mode is None else Vamp(first.root, mode, at_home=False)
