"""The band: bass, chords, drums and the melody player, from the changes and the route."""

from kit.band.events import PLAYERS, NoteEvent, Performance
from kit.band.feel import feel_names, load_feel
from kit.band.perform import perform, swing_ratio

__all__ = [
    "PLAYERS",
    "NoteEvent",
    "Performance",
    "feel_names",
    "load_feel",
    "perform",
    "swing_ratio",
]
