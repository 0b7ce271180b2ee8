"""Places inside tuplets have a weight, whatever the number of the tuplet."""

from fractions import Fraction

import pytest

from kit.levels._syncopation import weight
from kit.tune.model import Meter


@pytest.mark.parametrize("place", ["1/3", "7/5", "9/7", "13/10", "22/9"])
def test_a_place_in_any_tuplet_weighs_less_than_the_half_of_its_beat(place):
    meter = Meter(4, 4)
    assert weight(Fraction(place), meter) < weight(Fraction(1, 2), meter)
