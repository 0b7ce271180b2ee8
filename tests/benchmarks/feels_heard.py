"""Does every feel sound as a file as it should: level, peaks, and who plays?

``python tests/benchmarks/feels_heard.py [feels]`` renders eight bars of each feel with the
SoundFont at hand, measures the mix with pyloudnorm (a meter that is not ours) and peaks by
four-fold oversampling (ITU-R BS.1770, annex 2), and each player's own sound by its RMS.
A definition (``tests/reference/feels.toml``) with ``drums = false`` wants silence there.
Ends with an error if one file is outside -16 LUFS +- 0.5, has a true peak above -1 dBTP, or
a player is silent who should be heard, or heard who should be silent.
"""

from __future__ import annotations

import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import groove_measures as measure
import numpy as np
import pyloudnorm
from groove_tunes import subject
from scipy.signal import resample_poly

from kit.band.events import Performance
from kit.band.feel import feel_names, load_feel
from kit.form.sections import Form, Section
from kit.route.plan import Passage, plan_route
from kit.sound.render import render_mixes
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

DEFINITIONS = Path(__file__).parents[1] / "reference" / "feels.toml"
EIGHT_BARS = 1
"""A seed of eight bars, of those kept for judging."""
BAND = ("bass", "chords", "drums")
RATE_HZ = 44100


def eight_bars(name: str, definition: dict) -> Performance:
    """Let the band play eight bars of a feel at its usual tempo."""
    meter = definition["meters"][0]
    made = subject(EIGHT_BARS, meter, jazzy=load_feel(name).tensions)
    form = Form((Section("A", 0, 7),))
    route = plan_route(
        [Passage("head")], form=form, head=made.tune, order=range(8), count_in_bars=1
    )
    tempo_qpm = measure.tempo_of(definition, meter)
    return measure.listen(made.tune, route, feel=name, tempo_qpm=tempo_qpm, seed=1).show


def expected(definition: dict) -> set[str]:
    """Say who is to be heard."""
    return set(BAND) - ({"drums"} if definition.get("drums") is False else set())


def main(names: list[str]) -> int:
    definitions = tomllib.loads(DEFINITIONS.read_text(encoding="utf-8"))
    synth = open_synth(find_soundfont())
    print(
        f"{find_soundfont().name}\n{'feel':22}{'LUFS':>7}{'dBTP':>7}   bass chords  drums"
    )
    faults = 0
    for name in names or feel_names():
        show = eight_bars(name, definitions[name])
        (demo,) = render_mixes(show, ["demo"], synth=synth).values()
        audio = np.asarray(demo.samples, dtype=np.float64)
        audio = audio / (32768 if np.issubdtype(demo.samples.dtype, np.integer) else 1)
        lufs = pyloudnorm.Meter(RATE_HZ).integrated_loudness(audio)
        peak = 20 * np.log10(np.abs(resample_poly(audio, 4, 1, axis=0)).max())
        heard, row = set(), ""
        for player in BAND:
            alone = replace(show, events=show.of(player))
            level = 0.0
            if alone.events:
                (own,) = render_mixes(alone, ["backing"], synth=synth).values()
                level = float(np.sqrt(np.mean(np.square(own.samples, dtype=np.float64))))
            if level > 0:
                heard.add(player)
            row += f"{'yes' if level > 0 else '-':>7}"
        wrong = abs(lufs + 16) > 0.5 or peak > -1.0 or heard != expected(definitions[name])
        faults += wrong
        print(
            f"{name:22}{lufs:7.2f}{peak:7.2f}{row}{'   WRONG' if wrong else ''}", flush=True
        )
    return int(faults > 0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
