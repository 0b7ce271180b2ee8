"""The finished audio against outside measures.

* Loudness and true peak: ffmpeg's ebur128 filter (libavfilter) and pyloudnorm, both
  independent of our meter; ITU-R BS.1770, target and ceiling of the kit.
* Length and clock: libsndfile's decoder (soundfile) and ffmpeg's.
* Pitch: librosa's pYIN against equal temperament at A4 = 440 Hz (ISO 16:1975).
* Onsets: the amplitude envelope of the rendered stem, and librosa's onset detector.
"""

from __future__ import annotations

import io
import math
import re
import subprocess
from fractions import Fraction
from pathlib import Path

import librosa
import numpy as np
import pyloudnorm
import pytest
import soundfile

from kit.band.events import Performance
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Route, Tag, plan_route
from kit.sound._stems import render_stem
from kit.sound.mix_names import mix_names
from kit.sound.render import Rendered, encode_mp3, mp3_tag, render_mixes
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import open_synth
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Note, Tune
from kit.tune.pitch import Key, NoteName, Pitch

TEMPO = 120
RATE = 48_000
CHANGES = ["C minor-sixth", "D half-diminished", "G dominant", "C minor-seventh"]
LINE = ["G4", "Eb5", "F4", "D5", "B4", "D4", "C5", "Bb3"]


def sheet() -> Tune:
    """Thirty-two bars of detached half notes, each after a rest."""
    bars = []
    for place in range(32):
        root, kind = CHANGES[place % 4].split()
        pitch = Pitch.parse(LINE[place % 8])
        notes = (
            Note(Fraction(0), Fraction(1), None),
            Note(Fraction(1), Fraction(2), pitch),
            Note(Fraction(3), Fraction(1), None),
        )
        chord = ChordEvent(Fraction(0), ChordSymbol(NoteName.parse(root), kind))
        bars.append(Bar(place + 1, notes, (chord,), key=Key.parse("C minor")))
    return Tune("Thirty-two bars", tuple(bars))


@pytest.fixture(scope="module")
def route() -> Route:
    tune = sheet()
    form = Form(tuple(Section("A", first, first + 7) for first in (0, 8, 16, 24)))
    return plan_route(
        [Passage("head"), Passage("head", tag=Tag(2, 3))],
        form=form, head=tune, order=range(32),
    )  # fmt: skip


@pytest.fixture(scope="module")
def performance(route: Route) -> Performance:
    return perform(sheet(), route, tempo_qpm=TEMPO, soloist=Soloist(65))


@pytest.fixture(scope="module")
def mixes(performance: Performance) -> dict[str, Rendered]:
    font = find_soundfont(environ={})
    return render_mixes(performance, mix_names(), soundfont=font)


@pytest.fixture(scope="module")
def files(
    mixes: dict[str, Rendered], tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("audio")
    written = {}
    for mix, rendered in mixes.items():
        written[mix] = folder / f"{mix}.mp3"
        tag = mp3_tag({"title": "Zweiunddreißig ♭"})
        written[mix].write_bytes(tag + encode_mp3(rendered))
    return written


def ffmpeg_measures(ffmpeg: str, path: Path) -> tuple[float, float]:
    """Integrated loudness and true peak as ffmpeg's ebur128 filter prints them."""
    run = subprocess.run(
        [ffmpeg, "-hide_banner", "-nostats", "-i", path, "-af",
         "ebur128=peak=true", "-f", "null", "-"],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    summary = run.stderr[run.stderr.rindex("Summary:") :]
    loudness = re.search(r"I:\s+(-?[\d.]+) LUFS", summary)
    peak = re.search(r"Peak:\s+(-?[\d.]+) dBFS", summary)
    assert loudness is not None
    assert peak is not None
    return float(loudness[1]), float(peak[1])


def test_the_route_is_the_sixty_eight_bars_of_the_check(route: Route) -> None:
    assert route.counted_bars == 68
    assert route.seconds(TEMPO) == pytest.approx(136.0)


@pytest.mark.parametrize("mix", mix_names())
def test_ffmpeg_agrees_on_loudness_and_peak_of_the_mp3(
    files: dict[str, Path], mix: str, ffmpeg: str
) -> None:
    loudness, peak = ffmpeg_measures(ffmpeg, files[mix])
    assert peak <= -1.0
    if mix == "click":
        # Bare clicks hold so little energy that their peaks set the limit.
        assert -21 <= loudness <= -15.5
    else:
        assert loudness == pytest.approx(-16, abs=0.5)


@pytest.mark.parametrize("mix", ["demo", "backing", "melody"])
def test_pyloudnorm_agrees_with_our_meter(mixes: dict[str, Rendered], mix: str) -> None:
    other = pyloudnorm.Meter(RATE).integrated_loudness(mixes[mix].samples.astype(float))
    assert mixes[mix].lufs == pytest.approx(other, abs=0.15)


@pytest.mark.parametrize("mix", ["demo", "backing", "melody"])
def test_the_decoded_length_is_the_map_plus_the_ring_out(
    files: dict[str, Path], mixes: dict[str, Rendered], performance: Performance, mix: str
) -> None:
    decoded, rate = soundfile.read(files[mix])
    assert rate == RATE
    assert len(decoded) == len(mixes[mix].samples)
    assert performance.seconds == pytest.approx(140.0)
    assert 0 <= len(decoded) / RATE - performance.seconds <= 3.0


@pytest.mark.parametrize("mix", ["demo", "backing", "melody"])
def test_ffmpeg_decodes_the_same_length(
    files: dict[str, Path], mixes: dict[str, Rendered], mix: str, ffmpeg: str
) -> None:
    raw = subprocess.run(
        [ffmpeg, "-v", "error", "-i", files[mix], "-f", "f32le", "-"],
        capture_output=True, check=True,
    ).stdout  # fmt: skip
    assert len(raw) // 8 == len(mixes[mix].samples)


def test_nothing_clips_or_clicks_at_the_ends(files: dict[str, Path]) -> None:
    decoded, _ = soundfile.read(files["demo"])
    assert abs(decoded).max() < 1.0
    assert abs(decoded[-48:]).max() < 0.002


def test_ffprobe_reads_the_title(files: dict[str, Path]) -> None:
    run = subprocess.run(
        ["ffprobe", "-v", "error", "-show_entries", "format_tags=title", "-of",
         "default=nk=1:nw=1", files["demo"]],
        capture_output=True, text=True, check=True, encoding="utf-8",
    )  # fmt: skip
    assert run.stdout.strip() == "Zweiunddreißig ♭"


def attacks(audio: np.ndarray, events: list[tuple[float, float]]) -> np.ndarray:
    """Error in seconds of each note's -14 dB point against its planned onset."""
    envelope = np.abs(audio).max(axis=1)
    errors = []
    for start, length in events:
        place = round(start * RATE)
        stop = place + round(min(length, 0.25) * RATE)
        first = max(0, place - round(0.06 * RATE))
        loud = envelope[first:stop] >= 0.2 * envelope[place:stop].max()
        errors.append((first + int(np.argmax(loud)) - place) / RATE)
    return np.array(errors)


@pytest.mark.parametrize("program", [56, 57, 64, 65, 66, 67, 71, 73])
def test_melody_onsets_keep_to_the_plan_on_every_horn(route: Route, program: int) -> None:
    show = perform(sheet(), route, tempo_qpm=TEMPO, soloist=Soloist(program)).between(0, 40)
    synth = open_synth(find_soundfont(environ={}))
    audio = render_stem(show, "melody", synth).floats()
    errors = attacks(audio, [(e.start_s, e.duration_s) for e in show.of("melody")])
    assert np.median(np.abs(errors)) < 0.005
    assert np.abs(errors).max() < 0.015


def test_click_and_count_in_onsets_keep_to_the_plan(performance: Performance) -> None:
    synth = open_synth(find_soundfont(environ={}))
    for player in ("click", "count"):
        audio = render_stem(performance, player, synth).floats()
        events = [(e.start_s, 0.1) for e in performance.of(player)]
        errors = attacks(audio, events)
        assert np.median(np.abs(errors)) < 0.001
        assert np.abs(errors).max() < 0.005


def test_librosa_hears_the_clicks_where_the_decoded_file_should_have_them(
    files: dict[str, Path], performance: Performance
) -> None:
    decoded, _ = soundfile.read(files["click"], frames=40 * RATE)
    found = librosa.onset.onset_detect(
        y=decoded.mean(axis=1), sr=RATE, hop_length=128, units="time"
    )
    planned = [e.start_s for e in performance.of("click") if e.start_s < 39]
    errors = [float(np.abs(found - start).min()) for start in planned]
    # librosa's frames are 2.7 ms apart and its flux peaks a little late.
    assert float(np.median(errors)) < 0.008


@pytest.mark.parametrize("program", [65, 71, 56])
def test_sustained_notes_are_within_ten_cents_of_the_score(
    route: Route, program: int
) -> None:
    show = perform(sheet(), route, tempo_qpm=TEMPO, soloist=Soloist(program)).between(0, 20)
    synth = open_synth(find_soundfont(environ={}))
    audio = render_stem(show, "melody", synth).floats().mean(axis=1)
    for event in show.of("melody")[:6]:
        start, stop = event.start_s + 0.2, event.start_s + 0.6
        note = audio[round(start * RATE) : round(stop * RATE)]
        expected = 440 * 2 ** ((event.midi - 69) / 12)
        hertz, voiced, _ = librosa.pyin(
            note, sr=RATE, fmin=expected / 1.5, fmax=expected * 1.5,
            frame_length=4096, resolution=0.05,
        )  # fmt: skip
        cents = 1200 * math.log2(float(np.nanmedian(hertz[voiced])) / expected)
        assert abs(cents) < 10, (event.midi, cents)


def test_the_same_performance_gives_the_same_bytes(performance: Performance) -> None:
    font = find_soundfont(environ={})
    cut = performance.between(4.0, 12.0)
    one, two = (
        encode_mp3(render_mixes(cut, ["demo"], soundfont=font)["demo"]) for _ in range(2)
    )
    assert one == two


def test_another_tempo_is_rendered_true_not_stretched(route: Route) -> None:
    slow = perform(sheet(), route, tempo_qpm=60, soloist=Soloist(65))
    audio = render_mixes(slow.between(8.0, 16.0), ["melody"])["melody"]
    assert slow.seconds == pytest.approx(280.0)
    assert audio.lufs == pytest.approx(-16, abs=0.5)
    assert io.BytesIO(encode_mp3(audio)).getbuffer().nbytes > 10_000
