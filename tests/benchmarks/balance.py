"""Is each player as loud in the mix with one SoundFont as with another, and on a phone?

Run by hand: ``python tests/benchmarks/balance.py [FONT.sf2 ...]``. With the kit's own font
and each one named, for every feel: loudness of each player's stem (BS.1770, gated) in the
balance of the mix, and the largest difference of a player between the fonts. Then, with the
kit's own font: how much of the bass a loudspeaker leaves that begins at 250 Hz
(Butterworth, fourth order), against what it leaves of the whole mix, and how much each
player loses when left and right are added up. Ends with an error where a promise is not
kept.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from fractions import Fraction
from pathlib import Path

import numpy as np
import pyloudnorm
from scipy.signal import butter, sosfilt

from kit.band.events import Performance
from kit.band.feel import feel_names, load_feel
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, plan_route
from kit.sound._stems import render_stem, sample_count, sum_stems
from kit.sound.mix_names import mix_names, mix_table
from kit.sound.soundfont import SoundFont, find_soundfont
from kit.sound.synth import SAMPLE_RATE_HZ, open_synth
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Meter, Note, Tune
from kit.tune.pitch import NoteName, Pitch

PLAYERS = ("melody", "bass", "chords", "drums")
MELODIES = (65, 66, 71, 56, 57, 73)
MOST_APART_LU, MOST_LOST_LU, MOST_MONO_DB = 1.0, 5.0, 1.0
METER = pyloudnorm.Meter(SAMPLE_RATE_HZ)
PHONE = butter(4, 250, "highpass", fs=SAMPLE_RATE_HZ, output="sos")
ROOTS = ("F", "B", "E", "A", "D", "G", "C", "C")
KINDS = ("dominant", "minor-seventh", "major-seventh", "minor-seventh")
LAST_OF_LOW_STEPS = "GAB"

Stems = dict[str, np.ndarray]


def sheet(meter: Meter) -> Tune:
    """Sixteen bars of eighths and quarters from G3 to F4, with a change in each."""
    bars = []
    for place in range(16):
        at, notes = Fraction(0), []
        while at < meter.bar_length:
            value = Fraction(1, 2) if (place + len(notes)) % 3 else Fraction(1)
            value = min(value, meter.bar_length - at)
            step = "GABCDEF"[(3 * place + 2 * len(notes)) % 7]
            octave = 3 if step in LAST_OF_LOW_STEPS else 4
            notes.append(Note(at, value, Pitch(step, 0, octave)))
            at += value
        symbol = ChordSymbol(NoteName(ROOTS[place % 8]), KINDS[place % 4])
        chords = (ChordEvent(Fraction(0), symbol),)
        bars.append(Bar(place + 1, tuple(notes), chords, meter=meter))
    return Tune("Balance", tuple(bars))


def performances() -> Iterator[tuple[str, Performance]]:
    """Play two choruses in each feel, each on another instrument."""
    for place, feel in enumerate(feel_names()):
        tune = sheet(Meter.parse(next(iter(load_feel(feel).tempi))))
        route = plan_route(
            [Passage("head"), Passage("solo")],
            form=Form((Section("A", 0, 7), Section("B", 8, 15))),
            head=tune,
            order=range(16),
        )
        program = MELODIES[place % len(MELODIES)]
        yield feel, perform(tune, route, tempo_qpm=120, feel=feel, soloist=Soloist(program))


def stems_of(show: Performance, font: SoundFont) -> Stems:
    """Render each player alone, in the balance of the mix."""
    synth, count = open_synth(font), sample_count(show)
    return {
        player: sum_stems([render_stem(show, player, synth)], count)
        for player in PLAYERS
        if show.of(player)
    }


def lufs(audio: np.ndarray) -> float:
    """Measure loudness by a meter that is not ours."""
    return float(METER.integrated_loudness(audio.astype(float)))


def mono_loss_db(audio: np.ndarray) -> float:
    """Give what is lost when left and right come out of one loudspeaker."""
    both = np.square(audio, dtype=float).mean()
    return float(10 * np.log10(both / np.square(audio.mean(axis=1, dtype=float)).mean()))


def lost_on_a_phone(stems: Mapping[str, np.ndarray], players: tuple[str, ...]) -> float:
    """Give how many LU the bass falls behind the other players of a mix."""
    bass = stems["bass"]
    others = np.sum([stems[p] for p in players if p in stems and p != "bass"], axis=0)
    filtered = [sosfilt(PHONE, audio, axis=0) for audio in (bass, others)]
    return (lufs(bass) - lufs(others)) - (lufs(filtered[0]) - lufs(filtered[1]))


def main(names: list[str]) -> int:
    """Print the tables; give 1 if a promise is not kept."""
    own = find_soundfont(environ={})
    fonts = [own, *(SoundFont(Path(name), "named") for name in names)]
    apart = lost = mono = 0.0
    for feel, show in performances():
        rows = []
        for font in fonts:
            stems = stems_of(show, font)
            rows.append({player: lufs(audio) for player, audio in stems.items()})
            told = ", ".join(f"{player} {level:.1f}" for player, level in rows[-1].items())
            print(f"{feel} (kit {load_feel(feel).kit_program}), {font.name}: {told} LUFS")
            if font is own:
                phone = {
                    mix: lost_on_a_phone(stems, mix_table().mixes[mix])
                    for mix in mix_names()
                    if "bass" in (heard := set(mix_table().mixes[mix]) & set(stems))
                    and len(heard) > 1
                }
                losses = {player: mono_loss_db(audio) for player, audio in stems.items()}
                lost = max(lost, *phone.values())
                mono = max(mono, *losses.values())
                for what, unit, row in (("phone", "LU", phone), ("mono", "dB", losses)):
                    told = ", ".join(f"{name} {value:.1f}" for name, value in row.items())
                    print(f"  {what}, lost: {told} {unit}")
        for row in rows[1:]:
            apart = max(apart, *(abs(row[p] - rows[0][p]) for p in row))
    print(f"a player differs between fonts by at most {apart:.2f} LU")
    print(f"the bass falls behind on a phone by at most {lost:.1f} LU")
    print(f"a player loses at most {mono:.1f} dB in mono")
    kept = apart <= MOST_APART_LU and lost <= MOST_LOST_LU and mono <= MOST_MONO_DB
    return 0 if kept else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
