"""Instruments: transposition, range, octave fit and spelling of written parts."""

from kit.instruments.octave_signs import OctaveSign
from kit.instruments.octaves import OctaveMove
from kit.instruments.part import (
    Part,
    Prefer,
    key_for,
    shared_octave,
    to_concert,
    write_part,
)
from kit.instruments.respelling import Respelled, RespelledChord
from kit.instruments.table import (
    LEVEL_NAMES,
    Break,
    Instrument,
    Range,
    all_instruments,
    instrument,
)

__all__ = [
    "LEVEL_NAMES",
    "Break",
    "Instrument",
    "OctaveMove",
    "OctaveSign",
    "Part",
    "Prefer",
    "Range",
    "Respelled",
    "RespelledChord",
    "all_instruments",
    "instrument",
    "key_for",
    "shared_octave",
    "to_concert",
    "write_part",
]
