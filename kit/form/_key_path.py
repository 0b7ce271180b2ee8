"""Through which keys does a row of chords go? The path that explains most.

Each chord is graded in each key, pairs of chords add what a cadence adds
(`kit.form._chord_in_key`), and going over to another key costs. A key other than home is
only left again where its tonic was reached from its dominant, and the row only ends in one
whose tonic was reached or aimed at: a chord that is merely foreign is no change of key.
The best path is found by dynamic programming (Viterbi, "Error bounds for convolutional
codes", IEEE Transactions on Information Theory, 1967; from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from kit.form._chord_in_key import (
    Cadence,
    Candidate,
    Heard,
    cadence,
    fits,
    is_tonic,
    weight,
)

__all__ = ["Graded", "Stretch", "best_path", "graded"]

_NEVER = float("-inf")
_OPEN, _HEARD, _AIMED, _REACHED = range(4)
"""What a key has to show: nothing yet, its tonic, a ii–V, both. They add up as bits do."""
_PROOFS = {"none": _OPEN, "point": _AIMED, "rest": _REACHED}


@dataclass(frozen=True, slots=True)
class Stretch:
    """Chords `first` to `last` of the row, both included, and the key they are in."""

    key: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Graded:
    """A row in one key: the worth of chords and of pairs, and where the tonic rests."""

    chords: tuple[float, ...]
    pairs: tuple[Cadence, ...]
    rests: tuple[bool, ...]

    def total(self, first: int, last: int) -> float:
        """Sum up what chords `first` to `last` come to in this key."""
        return sum(self.chords[first : last + 1]) + sum(
            pair.worth for pair in self.pairs[first + 1 : last + 1]
        )


def graded(row: Sequence[Heard], key: Candidate) -> Graded:
    """Grade a row in a key, its first and last chord by what they tell of it."""
    chords = [c.length * grade for c, grade in zip(row, fits(row, key), strict=True)]
    pairs = [Cadence()] + [_pair(row, place, key) for place in range(1, len(row))]
    tonics = tuple(is_tonic(chord, key) for chord in row)
    for place in (place for place, tonic in enumerate(tonics) if tonic):
        chords[place] += weight("rest")
    if tonics[0]:
        chords[0] += weight("first")
    closed = any(_PROOFS[pair.proof] == _REACHED for pair in pairs[-2:])
    if pairs[-1].final or (tonics[-1] and closed):
        chords[-1] += weight("last")
    elif tonics[-1]:
        # Anything may be followed by a chord that happens to be this tonic.
        chords[-1] += weight("last_weak")
    elif (row[-1].root - key.tonic) % 12 == 7 and row[-1].kind == "dominant":
        chords[-1] += weight("half_close")
    elif (row[-1].root - key.tonic) % 12 == 7 and row[-1].kind == "major":
        chords[-1] += weight("half_close_plain")
    rests = (tonic and not _passes(row, k, key) for k, tonic in enumerate(tonics))
    return Graded(tuple(chords), tuple(pairs), tuple(rests))


def _pair(row: Sequence[Heard], place: int, key: Candidate) -> Cadence:
    """Judge a chord and the one before it, in the light of the one after."""
    found = cadence(row[place - 1], row[place], key, final=place + 1 == len(row))
    if found.proof == "rest" and _passes(row, place, key):
        return Cadence(found.worth / 2)
    return found


def _passes(row: Sequence[Heard], place: int, key: Candidate) -> bool:
    """Whether a minor tonic is only the next dominant's ii; at home it is i and IV7."""
    if key.relation == "home" or not key.is_minor or place + 1 == len(row):
        return False
    return row[place + 1].leads and row[place].up_to(row[place + 1]) == 5


def best_path(
    keys: Sequence[Candidate], grades: Sequence[Graded], on_grid: Sequence[bool]
) -> tuple[Stretch, ...]:
    """Give the keys that a row goes through.

    Parameters
    ----------
    keys : sequence of Candidate
        Home first.
    grades : sequence of Graded
        The row in each of the keys.
    on_grid : sequence of bool
        For each chord of the row whether a phrase may begin there.
    """
    # A key that nothing in the row proves can be no part of the path.
    live = [
        k
        for k, key in enumerate(keys)
        if key.relation == "home" or any(p.proof != "none" for p in grades[k].pairs)
    ]
    path = _path([keys[k] for k in live], [grades[k] for k in live], on_grid)
    return tuple(Stretch(live[part.key], part.first, part.last) for part in path)


def _path(
    keys: Sequence[Candidate], grades: Sequence[Graded], on_grid: Sequence[bool]
) -> tuple[Stretch, ...]:
    size = len(keys)
    cost = [weight("come_home" if k.relation == "home" else "leave") for k in keys]
    now = [[_NEVER] * 4 for _ in keys]
    for k, key in enumerate(keys):
        start = weight(key.relation) if key.relation else 0.0
        now[k][_entry(key, grades[k], 0)] = start + grades[k].chords[0]
    back: list[list[list[tuple[int, int]]]] = []
    for place in range(1, len(on_grid)):
        source = max(range(size), key=lambda k: now[k][_REACHED])
        left = now[source][_REACHED] - (0 if on_grid[place] else weight("off_the_grid"))
        step, trace = [], []
        for k in range(size):
            values, came = _stay(k, now[k], grades[k], place)
            entry = _entry(keys[k], grades[k], place)
            if k != source and left - cost[k] > values[entry]:
                values[entry], came[entry] = left - cost[k], (source, _REACHED)
            step.append([value + grades[k].chords[place] for value in values])
            trace.append(came)
        now = step
        back.append(trace)
    return _traced(now, back)


def _entry(key: Candidate, grade: Graded, place: int) -> int:
    if key.relation == "home":
        return _REACHED
    return _HEARD if grade.rests[place] else _OPEN


def _stay(
    k: int, now: Sequence[float], grade: Graded, place: int
) -> tuple[list[float], list[tuple[int, int]]]:
    """Go on in a key: its tonic or a cadence may lift it to more proof."""
    pair = grade.pairs[place]
    more = _PROOFS[pair.proof] | (_HEARD if grade.rests[place] else _OPEN)
    values, came = [_NEVER] * 4, [(k, proof) for proof in range(4)]
    for before, value in enumerate(now):
        if value + pair.worth > values[before | more]:
            values[before | more], came[before | more] = value + pair.worth, (k, before)
    return values, came


def _traced(
    now: list[list[float]], back: list[list[list[tuple[int, int]]]]
) -> tuple[Stretch, ...]:
    ends = ((k, proof) for k in range(len(now)) for proof in (_REACHED, _AIMED))
    key, proof = max(ends, key=lambda end: now[end[0]][end[1]])
    found = [Stretch(key, len(back), len(back))]
    for place in range(len(back) - 1, -1, -1):
        came, proof = back[place][key][proof]
        if came == key:
            found[-1] = Stretch(key, place, found[-1].last)
        else:
            found.append(Stretch(came, place, place))
        key = came
    return tuple(reversed(found))
