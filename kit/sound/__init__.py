"""The sound: a performance becomes finished audio, loudness and clock guaranteed."""

from kit.sound.midi_file import to_midi
from kit.sound.render import (
    Rendered,
    encode_mp3,
    mix_names,
    render_mixes,
    render_stretch,
)
from kit.sound.soundfont import SoundFont, find_soundfont

__all__ = [
    "Rendered",
    "SoundFont",
    "encode_mp3",
    "find_soundfont",
    "mix_names",
    "render_mixes",
    "render_stretch",
    "to_midi",
]
