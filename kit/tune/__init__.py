"""The tune: notation files in and out, and one immutable model in between."""

from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol, Degree
from kit.tune.chord_text import parse_chord
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune, sounding, transposed
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import write_musicxml
from kit.tune.pitch import Interval, Key, NoteName, Pitch
from kit.tune.read import read_tune
from kit.tune.unfold import playing_order, unfolded

__all__ = [
    "Bar",
    "ChordEvent",
    "ChordSymbol",
    "Degree",
    "Interval",
    "Key",
    "Meter",
    "Note",
    "NoteName",
    "Pitch",
    "Tune",
    "parse_chord",
    "playing_order",
    "read_abc",
    "read_musicxml",
    "read_tune",
    "sounding",
    "transposed",
    "unfolded",
    "write_musicxml",
]
