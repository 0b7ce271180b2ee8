"""Write ``kit/sound/drum_levels.toml``: how loud the strokes of the kit's own font are.

Run by hand after the font was made: ``python kit/sound/font/making/drum_levels.py``.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

from kit.sound._patch import measured_energy
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

__all__ = ["drum_levels"]

_KEYS = range(27, 88)
_SNARE_AND_RIDE = (38, 51)
_HEAD = """\
# How loud a stroke on each percussion key is (General MIDI level 1), in loudness units, at
# one velocity, against the mean of snare and ride. Measured on the standard kit of our own
# SoundFont by kit/sound/font/making/drum_levels.py; with any other font a drum part is
# brought to the loudness that it has by these.
[levels_lu]
"""


def drum_levels() -> dict[int, float]:
    """Measure the standard kit; keys that are silent in it are left out."""
    synth = open_synth(find_soundfont(environ={}))
    energies = {key: measured_energy(synth, "drums", 0, key) for key in _KEYS}
    usual = sum(energies[key] for key in _SNARE_AND_RIDE) / len(_SNARE_AND_RIDE)
    return {
        key: round(10 * math.log10(energy / usual), 1)
        for key, energy in energies.items()
        if energy > 1e-9 * usual
    }


def main() -> int:
    """Write the table."""
    rows = "".join(f"{key} = {level}\n" for key, level in drum_levels().items())
    place = Path(__file__).parents[2] / "drum_levels.toml"
    place.write_text(_HEAD + rows, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
