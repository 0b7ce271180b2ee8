"""Is the kit's own SoundFont in tune, alive and complete?

* Pitch: median of the held sound over the whole range of each instrument, by
autocorrelation
  (librosa's probabilistic YIN is the outside check for one instrument).
* Softer is darker: spectral centroid, as in Grey & Gordon, *Journal of the Acoustical
Society
  of America* 63 (1978) (from memory).
* No held tone is a single wave repeated.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import librosa
import numpy as np
import pytest

import kit.band
from kit.band.events import NoteEvent, Performance
from kit.band.feel import feel_names, load_feel
from kit.instruments.table import all_instruments
from kit.sound._patch import drum_levels_lu, measured_energy
from kit.sound._stems import RING_S, render_stem
from kit.sound.font.making.drum_levels import drum_levels
from kit.sound.font.making.make_font import recipe
from kit.sound.font.riff import INSTRUMENT, SAMPLE_ID, read_font
from kit.sound.midi_file import to_midi
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import SAMPLE_RATE_HZ, open_synth

FONT = find_soundfont(environ={})
RECORDS = read_font(FONT.content)
PRESETS = {(preset.bank, preset.program): preset for preset in RECORDS.presets}
INSTRUMENTS = {row.slug: row for row in all_instruments()}
HELD = {int(n) for n, row in recipe()["tuned"].items() if row.get("held")}
LOOP_MODE = 54
SOFT, LOUD = 40, 110
CHANGES_COLOUR = {0, 56, 57, 60, 64, 65, 66, 67, 68, 70, 71, 73}
"""Recorders, tubas and piccolos have few partials to lose."""


def sound(program, midi, velocity=80, seconds=1.0, *, joined=False):
    event = NoteEvent("melody", midi, 0.0, seconds, velocity, joined=joined)
    show = Performance((event,), seconds, 0.0, {"melody": program})
    leads = {"melody": {}}
    data = to_midi(show, players=["melody"], slurred_leads_s=leads, tail_s=0.0)
    return open_synth(FONT).render(data).floats().mean(axis=1).astype(float)


def spectrum(wave):
    wave = wave[round(0.3 * SAMPLE_RATE_HZ) :][: round(SAMPLE_RATE_HZ * 0.6)]
    size = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 17))
    return np.fft.rfftfreq(1 << 17, 1 / SAMPLE_RATE_HZ), size


def cents_off(wave, midi):
    """Give how far a tone is from its pitch, by the strongest of its first partials."""
    hertz, size = spectrum(wave)
    best = (0.0, 0.0)
    for partial in (1, 2, 3):
        cents = 1200 * np.log2(np.maximum(hertz, 1) / (partial * frequency(midi)))
        near = np.abs(cents) < 70
        power = np.square(size[near])
        # The mean of what vibrato spreads.
        best = max(
            best, (float(power.max()), float((cents[near] * power).sum() / power.sum()))
        )
    return best[1]


def frequency(midi):
    return 440 * 2 ** ((midi - 69) / 12)


def centroid_hz(wave, midi):
    """Give the centre of a tone's partials by amplitude, those below -60 dB left out."""
    hertz, size = spectrum(wave)
    partials = np.arange(1, int(12_000 / frequency(midi)) + 1) * frequency(midi)
    peaks = np.array(
        [size[(hertz > 0.98 * f) & (hertz < 1.02 * f)].max() for f in partials]
    )
    peaks[peaks < 1e-3 * peaks.max()] = 0
    return float((partials * peaks).sum() / peaks.sum())


def sounding_range(row):
    ends = (row.range_written.low, row.range_written.high)
    return tuple((pitch + -row.written_above_concert).midi for pitch in ends)


def programs_asked_for():
    """Give what instruments and feels can ask for, also of feels in work: bank, program."""
    yield from ((0, row.gm_program) for row in INSTRUMENTS.values())
    for name in feel_names():
        feel = load_feel(name)
        yield from (
            (0, feel.chord_program),
            (0, feel.bass_program),
            (128, feel.kit_program),
        )
    for table in (Path(kit.band.__file__).parent / "feels").glob("*.toml"):
        for key, value in walk(tomllib.loads(table.read_text(encoding="utf-8"))):
            if key.endswith("_program"):
                yield (128 if key == "kit_program" else 0), value


def walk(table):
    for key, value in table.items():
        if isinstance(value, dict):
            yield from walk(value)
        else:
            yield key, value


def test_every_program_and_kit_that_can_be_asked_for_is_there() -> None:
    assert len(set(programs_asked_for())) >= 25
    assert set(programs_asked_for()) <= set(PRESETS)


def test_every_stroke_of_the_drum_table_sounds_in_every_kit() -> None:
    synth = open_synth(FONT)
    for kit_number in sorted(program for bank, program in PRESETS if bank == 128):
        for key in (31, *range(35, 82)):
            assert measured_energy(synth, "drums", kit_number, key) > 1e-9, (
                kit_number,
                key,
            )


@pytest.mark.parametrize("slug", INSTRUMENTS)
def test_every_instrument_is_in_tune_over_its_range(slug: str) -> None:
    row = INSTRUMENTS[slug]
    low, high = sounding_range(row)
    # Above C7 a piano is tuned high, because its partials are.
    keys = range(max(24, low), min(96, high) + 1, 2)
    off = [cents_off(sound(row.gm_program, midi), midi) for midi in keys]
    assert abs(np.median(off)) <= 5, off
    assert np.percentile(np.abs(off), 90) <= 12, off


def test_another_judge_hears_the_same_pitch() -> None:
    for midi in (58, 65, 72):
        f0 = librosa.yin(
            sound(65, midi)[14_400:],
            fmin=80,
            fmax=900,
            sr=SAMPLE_RATE_HZ,
            frame_length=4096,
        )
        cents = 1200 * np.log2(np.median(f0) / (440 * 2 ** ((midi - 69) / 12)))
        assert abs(cents) <= 8


@pytest.mark.parametrize(
    "program", sorted({row.gm_program for row in INSTRUMENTS.values()})
)
def test_what_is_softer_is_darker(program: int) -> None:
    keys = [
        sounding_range(row) for row in INSTRUMENTS.values() if row.gm_program == program
    ]
    middle = sum(keys[0]) // 2
    soft, loud = (centroid_hz(sound(program, middle, v), middle) for v in (SOFT, LOUD))
    assert loud > (1.1 if program in CHANGES_COLOUR else 1.02) * soft


def test_every_held_tone_has_a_loop_of_many_waves() -> None:
    for number, preset in PRESETS.items():
        if number[0] == 128 or number[1] not in HELD:
            continue
        for zone in preset.zones:
            for tone in RECORDS.instruments[zone.get(INSTRUMENT) or 0].zones:
                sample = RECORDS.samples[tone.get(SAMPLE_ID) or 0]
                assert tone.get(LOOP_MODE)
                loop_s = (sample.loop[1] - sample.loop[0]) / sample.rate_hz
                assert loop_s >= 0.15, (preset.name, sample.name)


def test_slurred_copies_are_those_of_held_programs_and_start_without_an_attack() -> None:
    also = {row["also"] for row in recipe()["tuned"].values() if "also" in row}
    assert FONT.slurred_programs == HELD | also
    for program in (65, 71, 56, 73):
        slurred = sound(program, 67, joined=True)
        begin, later = (
            np.square(slurred[a:b]).mean() for a, b in ((2400, 7200), (24000, 28800))
        )
        assert 10 * np.log10(begin / later) > -3, program


def share_above(audio, hertz):
    power = np.square(np.abs(np.fft.rfft(audio.mean(axis=1).astype(float))))
    return (
        power[np.fft.rfftfreq(len(audio), 1 / SAMPLE_RATE_HZ) > hertz].sum() / power.sum()
    )


@pytest.mark.parametrize("key", [42, 49, 51])
def test_cymbals_keep_their_treble_in_the_mix(key: int) -> None:
    show = Performance((NoteEvent("drums", key, 0.0, 1.0, 96),), 1.0, 0.0, {"drums": 0})
    synth = open_synth(FONT)
    alone = synth.render(to_midi(show, players=["drums"], tail_s=RING_S)).floats()
    mixed = render_stem(show, "drums", synth).floats()
    assert share_above(mixed, 10_000) == pytest.approx(share_above(alone, 10_000), rel=0.1)
    assert share_above(mixed, 10_000) > 0.02


def test_the_table_of_drum_levels_is_that_of_the_font() -> None:
    measured = drum_levels()
    assert set(measured) == set(drum_levels_lu())
    for key, level in drum_levels_lu().items():
        assert measured[key] == pytest.approx(level, abs=0.11), key
