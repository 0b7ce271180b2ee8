"""Which moves on a path of keys are no change of key?

A dominant that is applied to a chord of the key visits that chord; a last bar of ii and V
leads back to where the music goes on. Neither is a centre that a student should know of.

Source: common practice (applied dominants, turnarounds).
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.form._chord_in_key import Candidate, Heard, belongs, is_tonic, weight
from kit.form._key_path import Graded, Stretch

__all__ = ["without_lead_back", "without_visits"]

_PHRASE = 4
"""Bars of a phrase (common practice)."""
_LEAST_BARS = 2
"""Bars that chords without their tonic must take to be more than a way back."""


def without_visits(
    path: Sequence[Stretch],
    row: Sequence[Heard],
    keys: Sequence[Candidate],
    grades: Sequence[Graded],
    bars: Sequence[float],
) -> list[Stretch]:
    """Give a visit to a chord of a neighbouring key to the neighbour that hears it better.

    A tonic that is foreign to the keys on both sides may be there for a moment and is
    still a key of its own; one that belongs there has to hold.

    Parameters
    ----------
    path : sequence of Stretch
        At least one.
    row : sequence of Heard
        The chords.
    keys : sequence of Candidate
        The keys that the path goes through, home first.
    grades : sequence of Graded
        The row in each of them.
    bars : sequence of float
        How many bars each chord holds.
    """
    found = list(path)
    while len(found) > 1:
        for place, part in enumerate(found):
            near = found[max(0, place - 1) : place] + found[place + 1 : place + 2]
            if _is_visit(part, [keys[n.key] for n in near], row, keys, bars):
                host = max(near, key=lambda n: grades[n.key].total(part.first, part.last))
                found[place] = Stretch(host.key, part.first, part.last)
                found = _joined(found)
                break
        else:
            break
    return found


def _is_visit(
    part: Stretch,
    near: Sequence[Candidate],
    row: Sequence[Heard],
    keys: Sequence[Candidate],
    bars: Sequence[float],
) -> bool:
    key = keys[part.key]
    held = row[part.first : part.last + 1]
    length = sum(chord.length for chord in held)
    if key.relation == "home":
        return False
    if any(other.tonic == key.tonic for other in (*near, keys[0])):
        # In minor its tonic in major is a Picardy third or the dominant of iv.
        return len(held) < weight("visit") or length < weight("visit")
    # The circle of fifths goes through the relative without stopping: there it takes more.
    passing = key.relation == "relative" and not is_tonic(held[-1], key)
    # So does the fourth: I7 IV in the middle of a tune is no bridge.
    short = part.first > 0 and sum(bars[part.first : part.last + 1]) < _PHRASE
    fourth = short and any((key.tonic - other.tonic) % 12 == 5 for other in near)
    least = weight("visit_fourth" if fourth else "visit_passing" if passing else "visit")
    tonic = Heard(key.tonic, frozenset({key.tonic}), key.mode)
    return length < least and any(belongs(tonic, other) for other in near)


def _joined(path: Sequence[Stretch]) -> list[Stretch]:
    found: list[Stretch] = []
    for part in path:
        if found and found[-1].key == part.key:
            found[-1] = Stretch(part.key, found[-1].first, part.last)
        else:
            found.append(part)
    return found


def without_lead_back(
    path: Sequence[Stretch],
    row: Sequence[Heard],
    keys: Sequence[Candidate],
    bars: Sequence[float],
) -> list[Stretch]:
    """Leave out a last bar that only leads back: a turnaround is no key centre.

    Parameters
    ----------
    path : sequence of Stretch
        At least one.
    row : sequence of Heard
        The chords.
    keys : sequence of Candidate
        The keys that the path goes through.
    bars : sequence of float
        How many bars each chord holds.
    """
    found = list(path)
    if len(found) > 1:
        end, before = found[-1], found[-2]
        rests = any(is_tonic(chord, keys[end.key]) for chord in row[end.first :])
        if sum(bars[end.first :]) < _LEAST_BARS and not rests:
            found[-2:] = [Stretch(before.key, before.first, end.last)]
    return found
