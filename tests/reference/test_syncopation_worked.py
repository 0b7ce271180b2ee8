"""The syncopation measure on published examples, and on rhythms worked by hand.

Sources: Longuet-Higgins & Lee (1984), *Music Perception* 1, 424-441, whose Figure 9 and
example 4(b) are given with their values in H. Honing's implementation of the measure
(syncopation-LHL84, University of Amsterdam 2002, kept in L. Smith's MultiresRhythm); the
weights of each meter are from there too. The measure also calls a note syncopated, with
strength 0, where a place as strong as its own passes by; those add nothing to a sum and are
left out here. Rhythms "worked by hand" follow the definition.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from kit.levels._syncopation import syncopations, weight
from kit.tune.abc.read import read_abc
from kit.tune.model import Meter


def strengths(body: str, meter: str = "4/4") -> list[tuple[int, int]]:
    text = f"X:1\nT:t\nM:{meter}\nL:1/16\nK:C\n{body}"
    return [(item.bar, item.strength) for item in syncopations(read_abc(text, source="t"))]


@pytest.mark.parametrize(
    ("place", "meter", "expected"),
    [
        (Fraction(0), "4/4", 0), (Fraction(2), "4/4", -1), (Fraction(3), "4/4", -2),
        (Fraction(1, 2), "4/4", -3), (Fraction(7, 4), "4/4", -4),
        (Fraction(1), "3/4", -1), (Fraction(2), "3/4", -1), (Fraction(3, 2), "3/4", -2),
        (Fraction(3, 2), "6/8", -1), (Fraction(1, 2), "6/8", -2),
    ],
)  # fmt: skip
def test_weights_fall_with_each_finer_layer(place, meter, expected):
    assert weight(place, Meter.parse(meter)) == expected


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        # Four quarters: nothing stronger is passed over.
        ("c4 c4 c4 c4|c16|]", []),
        # Quarter, half, quarter: beat 2 (-2) held over the half bar (-1).
        ("c4 c8 c4|c16|]", [(0, 1)]),
        # Eighth, quarter, eighth ...: off-beat (-3) held over beat 2 (-2).
        ("c2 c4 c2 c8|c16|]", [(0, 1)]),
        # Off-beat eighth before the half bar: -3 over -1.
        ("c4 c2 c4 z6|c16|]", [(0, 2)]),
        # Beat 4 tied over the bar line: -2 over 0.
        ("c12 c4-|c8 c8|]", [(0, 2)]),
        # The last off-beat tied over the bar line: -3 over 0.
        ("c12 c2 c2-|c8 c8|]", [(0, 3)]),
        # A rest on the strong place counts like a tie.
        ("c4 c4 z4 c4|c16|]", [(0, 1)]),
        # The five-stroke clave in sixteenths: strokes at 3 and 6 pass over -2 and -1.
        ("c3 c3 c4 c2 c4|c16|]", [(0, 2), (0, 2)]),
    ],
)
def test_worked_rhythms(body, expected):
    assert strengths(body) == expected


# Durations in the finest unit of the meter, as published, with the strengths of the notes.
FIGURE_9 = [
    ("1 3", "2/4", [1]),
    ("2 1 3 2", "4/4", [2]),
    ("3 1", "2/4", []),
    ("2 1", "3/4", []),
    ("1 2", "3/4", []),
]
MORE_PUBLISHED = [
    ("1 2 1", "2/4", [1]),
    ("1 2 1 1 3", "4/4", [1, 1]),
    ("1 4 3", "4/4", [2, 1]),
    ("1 2 2 2 1", "4/4", [1, 2, 1]),
]
UNIT = {"2/4": Fraction(1, 2), "4/4": Fraction(1, 2), "3/4": Fraction(1)}


@pytest.mark.parametrize(("durations", "meter", "expected"), FIGURE_9 + MORE_PUBLISHED)
def test_published_examples(durations, meter, expected):
    """The rhythm fills a bar; the next bar's first note closes it."""
    sixteenths = [int(n) * int(4 * UNIT[meter]) for n in durations.split()]
    length = int(4 * Meter.parse(meter).bar_length)
    bar = " ".join(f"c{n}" for n in sixteenths)
    found = strengths(f"{bar}|c{length}|]", meter)
    assert [strength for _, strength in found] == expected


@pytest.mark.parametrize(
    ("meter", "unit", "expected"),
    [
        ("3/4", Fraction(1, 2), [0, -2, -1, -2, -1, -2]),
        ("4/4", Fraction(1, 2), [0, -3, -2, -3, -1, -3, -2, -3]),
        ("6/8", Fraction(1, 2), [0, -2, -2, -1, -2, -2]),
        ("9/8", Fraction(1, 2), [0, -2, -2, -1, -2, -2, -1, -2, -2]),
        ("12/8", Fraction(1, 2), [0, -3, -3, -2, -3, -3, -1, -3, -3, -2, -3, -3]),
    ],
)
def test_published_weights(meter, unit, expected):
    found = [weight(unit * k, Meter.parse(meter)) for k in range(len(expected))]
    assert found == expected


def test_a_waltz_on_the_beat_is_not_syncopated_and_a_held_second_beat_is_not_either():
    assert strengths("c4 c4 c4|c12|]", "3/4") == []
    assert strengths("c4 c8|c12|]", "3/4") == []
