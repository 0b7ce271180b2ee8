"""Which step from note to note lies badly in the hands, and why?

Conventions
-----------
* Pitches are written pitches. What is awkward one way is awkward the other way too.
* The *cost* has three degrees: 1 needs care in fast notes, 2 wants practice by itself, 3
  cannot be done fast at all, so never in a grace note. It says nothing about speed: a slow
  awkward step is no difficulty, and who asks knows how long the notes are.
* Where another fingering than the usual one lies better, the step still needs care: who has
  learnt one fingering only does not take the other in passing.
* An instrument without a table (strings, the voice, a teacher's own) has its breaks only.

Contents: `awkward` and what it gives, `Awkward`; `hands_of` for what does the work.

Source: the fingering tables name theirs. What makes a step awkward is common practice of
methods and studies: the register break, fingers of one hand that move against each other, a
finger that slides from key to key, keys that take a hand from its place, valves that cross,
the way of the slide. The degrees are our own choice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Literal

from kit.instruments._fingerings import Grip, Hands, fingerings
from kit.instruments.table import Instrument
from kit.tune.pitch import Pitch

__all__ = ["Awkward", "AwkwardKind", "awkward", "hands_of"]

AwkwardKind = Literal[
    "over the break", "with fingers that cross", "with a finger that slides",
    "with the palm or side keys", "with valves that cross", "with a long way of the slide",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Awkward:
    """A step that lies badly.

    Parameters
    ----------
    cost : int, 1 to 3
        1 needs care, 2 wants practice by itself, 3 cannot be done fast.
    kind : str
        The sort of it, as one ends a phrase: "over the break".
    why : str
        What the hands have to do, as a clause: "the slide goes from 1st to 6th position".
    """

    cost: int
    kind: AwkwardKind
    why: str


_BREAK_COST = 2
# Down to where the arm need not swing: three positions are a hand's breadth each.
_SLIDE_COSTS = {3: 1, 4: 2, 5: 3, 6: 3}
_FINGERS = {
    "L": frozenset({"L1", "L2", "L3"}),
    "R": frozenset({"R1", "R2", "R3"}),
}
_SIDES = {"L": "left", "R": "right"}
_NAMES = {
    "L1": "left index finger", "L2": "left middle finger", "L3": "left ring finger",
    "L4": "left little finger", "R1": "right index finger", "R2": "right middle finger",
    "R3": "right ring finger", "R4": "right little finger", "LT": "left thumb",
    "RT": "right thumb",
}  # fmt: skip
_REGISTER_KEYS = frozenset({"O", "O1", "O2", "REG"})
# So many fingers at once, with the register key, are a break wherever it lies.
_MANY = 5


def awkward(one: Pitch, other: Pitch, instrument: Instrument) -> Awkward | None:
    """Say what is awkward about going from one note to another.

    Parameters
    ----------
    one, other : Pitch
        Written pitches, in either order.
    instrument : Instrument
        Who plays them.

    Returns
    -------
    Awkward or None
        The worst about the step; None where nothing is, or nothing is known.

    Examples
    --------
    >>> from kit.instruments.table import instrument
    >>> step = awkward(Pitch.parse("Bb2"), Pitch.parse("C3"), instrument("trombone"))
    >>> step.cost, step.why
    (3, 'the slide goes from 1st to 6th position')
    """
    low, high = sorted((one, other))
    # The slide tells its own way, position by position.
    breaks = () if hands_of(instrument) == "slide" else instrument.breaks
    crossed = [each for each in breaks if each.crossed_by(low, high)]
    found = [
        Awkward(
            _BREAK_COST,
            "over the break",
            f"the line crosses the break, {each.below} to {each.above}: {each.why}",
        )
        for each in crossed
    ]
    if instrument.fingering:
        name, up = instrument.fingering
        step = _step(name, low.midi - up.semitones, high.midi - up.semitones)
        found.extend([step] if step else [])
    # Of equals the break comes first: its words are the teacher's own.
    return max(found, key=lambda each: each.cost, default=None)


def hands_of(instrument: Instrument) -> Hands | None:
    """Say what a player moves: fingers, valves or the slide; None if nothing is known."""
    if instrument.fingering:
        return fingerings(instrument.fingering[0]).hands
    return "fingers" if instrument.breaks else None


@lru_cache(maxsize=4096)
def _step(name: str, low: int, high: int) -> Awkward | None:
    """Look at the usual way from one note of a table to another, and at the easiest."""
    table = fingerings(name)
    look = {"fingers": _of_fingers, "valves": _of_valves, "slide": _of_slide}[table.hands]
    pairs = product(table.grips.get(low, ()), table.grips.get(high, ()))
    ways = [_worst(tuple(look(*pair))) for pair in pairs] if low != high else []
    usual = ways[0] if ways else None
    easiest = min(ways, key=lambda way: way.cost if way else 0, default=None)
    if usual is None or (easiest and easiest.cost == usual.cost):
        return usual
    helps = "position" if table.hands == "slide" else "fingering"
    cost = max(1, easiest.cost if easiest else 0)
    return replace(usual, cost=cost, why=f"{usual.why} (another {helps} helps)")


def _worst(found: tuple[Awkward, ...]) -> Awkward | None:
    """Give the worst of what is awkward; two kinds of what needs care want practice."""
    if not found:
        return None
    first = max(found, key=lambda each: each.cost)
    several = len({each.kind for each in found}) > 1
    return replace(first, cost=2) if several and first.cost == 1 else first


def _of_slide(one: Grip, other: Grip) -> Iterator[Awkward]:
    first, last = sorted((int(one["slide"]), int(other["slide"])))
    cost = _SLIDE_COSTS.get(last - first)
    if cost:
        way = f"the slide goes from {_ordinal(first)} to {_ordinal(last)} position"
        yield Awkward(cost, "with a long way of the slide", way)


def _ordinal(number: int) -> str:
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number, 'th') }"


def _of_valves(one: Grip, other: Grip) -> Iterator[Awkward]:
    # The thumb of a horn works by itself.
    up, down = (sorted(set(a) - set(b) - {"T"}) for a, b in ((one, other), (other, one)))
    if up and down:
        # The ring finger is the weak one, and has no tendon of its own.
        cost = 2 if "3" in (*up, *down) else 1
        why = f"{_valves(up)} {'comes' if len(up) == 1 else 'come'} up as "
        why += f"{_valves(down)} {'goes' if len(down) == 1 else 'go'} down"
        yield Awkward(cost, "with valves that cross", why)


def _valves(numbers: list[str]) -> str:
    return f"valve{'' if len(numbers) == 1 else 's'} {' and '.join(numbers)}"


def _of_fingers(one: Grip, other: Grip) -> Iterator[Awkward]:
    up, down = set(one) - set(other), set(other) - set(one)
    changed = {what for what in set(one) & set(other) if one[what] != other[what]}
    yield from (each for what in sorted(changed) for each in _slid(what, one, other))
    moving = up | down | changed
    edges = moving & {"LH", "RH"}
    if edges and moving - edges - _REGISTER_KEYS:
        keys = "palm" if "LH" in edges else "side"
        why = f"the {keys} keys take the hand from its place"
        yield Awkward(1, "with the palm or side keys", why)
    for hand, fingers in _FINGERS.items():
        if up & fingers and down & fingers:
            count = len((up | down) & fingers)
            why = f"fingers of the {_SIDES[hand]} hand go up as others go down"
            yield Awkward(1 if count == 2 else 2, "with fingers that cross", why)
    if moving & _REGISTER_KEYS and len(moving - _REGISTER_KEYS) >= _MANY:
        yield Awkward(2, "over the break", "nearly all fingers move at once")


def _slid(finger: str, one: Grip, other: Grip) -> Iterator[Awkward]:
    """Look at a finger that stays down, on another key."""
    keys = {one[finger], other[finger]}
    first, last = (set(grip[finger].split("+")) for grip in (one, other))
    if finger in {"LH", "RH"}:
        return  # the edge of a hand has room for several keys
    if "half" in keys:
        why = f"the {_NAMES[finger]} rolls to half a hole"
        yield Awkward(1, "with a finger that slides", why)
    elif first < last or last < first or (finger == "L1" and "" in keys):
        why = f"the {_NAMES[finger]} rolls to another key"
        yield Awkward(1, "with a finger that slides", why)
    else:
        why = f"the {_NAMES[finger]} slides from key to key"
        yield Awkward(2, "with a finger that slides", why)
