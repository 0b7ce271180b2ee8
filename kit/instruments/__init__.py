"""Instruments: transposition, range, octave fit and spelling of written parts."""

from kit.instruments.part import (
    Part,
    Respelled,
    RespelledChord,
    key_for,
    shared_octave,
    to_concert,
    write_part,
)
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
    "Part",
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
