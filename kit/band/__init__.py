"""The band: bass, chords, drums and the melody player, from the changes and the route."""

from kit.band.events import PLAYERS, NoteEvent, Performance
from kit.band.feel import feel_names, load_feel
from kit.band.loop import loop_of
from kit.band.perform import A4_RANGE_HZ, CHORD_STYLES, off_beats, perform, swing_ratio

__all__ = [
    "A4_RANGE_HZ",
    "CHORD_STYLES",
    "PLAYERS",
    "NoteEvent",
    "Performance",
    "feel_names",
    "load_feel",
    "loop_of",
    "off_beats",
    "perform",
    "swing_ratio",
]
