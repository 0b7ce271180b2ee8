"""Does the demonstration play what stands on the page? Measured on its rendered sound.

    python tests/benchmarks/articulation.py              the winds that lessons have most
    python tests/benchmarks/articulation.py oboe tuba    any instruments of the table
    KIT_SOUNDFONT=my.sf2 python …                        with another SoundFont

One line for each measure, one column for each instrument (`articulation_measures`).
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from articulation_measures import Stage

from kit.instruments.table import instrument
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth

USUAL = (
    "alto-sax", "tenor-sax", "baritone-sax", "clarinet", "flute", "trumpet", "trombone",
)  # fmt: skip
FOURS = {0: {"slurs_started": 1}, 3: {"slurs_ended": 1},
         4: {"slurs_started": 1}, 7: {"slurs_ended": 1}}  # fmt: skip
ALL = {0: {"slurs_started": 1}, 7: {"slurs_ended": 1}}
MEASURES: dict[str, Callable[[Stage], object]] = {
    "attacks of 16, tongued": lambda s: s.attacks({}, feel="straight-eighths"),
    "attacks of 16, slurred in fours (4)": lambda s: s.attacks(
        FOURS, feel="straight-eighths"
    ),
    "attacks of 16, slurred by bars (2)": lambda s: s.attacks(ALL, feel="straight-eighths"),
    "slurred notes, bump between two, dB": Stage.swells_between_db,
    "off-beats over beats, medium swing, dB": lambda s: s.off_beats_db(feel="medium-swing"),
    "off-beats over beats, even, dB": lambda s: s.off_beats_db(feel="straight-eighths"),
    "slur-two: leaned off-beat over beat, dB": Stage.slur_two_db,
    "length plain": lambda s: s.length_share(),
    "length tenuto": lambda s: s.length_share("tenuto"),
    "length staccato": lambda s: s.length_share("staccato"),
    "length staccatissimo": lambda s: s.length_share("staccatissimo"),
    "length hat": lambda s: s.length_share("strong-accent"),
    "level pp to ff, dB": lambda s: s.level_db("ff") - s.level_db("pp"),
    "level mp to mf, dB": lambda s: s.level_db("mf") - s.level_db("mp"),
    "accent over plain, dB": lambda s: s.level_db("", "accent") - s.level_db(),
    "ghost over plain, dB": lambda s: s.level_db("", "ghost") - s.level_db(),
    "hairpin over four beats, dB": Stage.hairpin_db,
    "bloom of a long note, dB": Stage.bloom_db,
    "late vibrato, cents": Stage.vibrato_cents,
    "breath of 5 s: silent behind bars": lambda s: s.breaths(5.0),
}


def main(slugs: tuple[str, ...]) -> None:
    """Print the table."""
    font = find_soundfont()
    synth = open_synth(font)
    stages = [Stage(instrument(slug), synth) for slug in slugs]
    print(f"SoundFont {font.name}; {stages[0].tempo_qpm:g} quarter notes a minute")
    print(f"{'':40}" + "".join(f"{slug:>14}" for slug in slugs))
    for name, ask in MEASURES.items():
        print(f"{name:40}" + "".join(f"{_shown(ask(stage)):>14}" for stage in stages))


def _shown(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.2f}"
    if isinstance(value, list):
        return " ".join(map(str, value)) or "none"
    return str(value)


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or USUAL)
