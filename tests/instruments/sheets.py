"""Short sheets for the tests of parts: bars of 4/4 of equal notes, ``r`` for a rest."""

from fractions import Fraction

from kit.tune.model import Bar, Note, Tune
from kit.tune.pitch import Key, Pitch


def bar(number, text, key="C major", **more):
    names = text.split()
    length = Fraction(4, len(names))
    notes = tuple(
        Note(i * length, length, None if name == "r" else Pitch.parse(name))
        for i, name in enumerate(names)
    )
    return Bar(number, notes, key=Key.parse(key), **more)


def sheet(*texts, key="C major"):
    bars = tuple(bar(number, text, key) for number, text in enumerate(texts, start=1))
    return Tune("Sheet", bars)
