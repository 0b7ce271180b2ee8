"""The sound: a performance becomes finished audio, loudness and clock guaranteed.

Choosing a SoundFont costs nothing; what renders is loaded, with its numerical libraries,
on first use.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from kit.sound.mix_names import mix_names
from kit.sound.soundfont import SoundFont, find_soundfont

if TYPE_CHECKING:
    from kit.sound.midi_file import to_midi
    from kit.sound.render import (
        Rendered,
        each_mix,
        encode_lossless,
        encode_mp3,
        render_mixes,
        render_stretch,
    )
    from kit.sound.synth import Synth, open_synth

__all__ = [
    "Rendered",
    "SoundFont",
    "Synth",
    "each_mix",
    "encode_lossless",
    "encode_mp3",
    "find_soundfont",
    "mix_names",
    "open_synth",
    "render_mixes",
    "render_stretch",
    "to_midi",
]

_HOMES = {
    "Rendered": "kit.sound.render",
    "Synth": "kit.sound.synth",
    "each_mix": "kit.sound.render",
    "encode_lossless": "kit.sound.render",
    "open_synth": "kit.sound.synth",
    "encode_mp3": "kit.sound.render",
    "render_mixes": "kit.sound.render",
    "render_stretch": "kit.sound.render",
    "to_midi": "kit.sound.midi_file",
}


def __getattr__(name: str) -> Any:
    """Load a public name from its module on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value
