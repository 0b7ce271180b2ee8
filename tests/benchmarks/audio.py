"""How fast is the audio made, against rendering each mix by itself?

Run by hand: ``python tests/benchmarks/audio.py``. Prints, for a 70-bar demo at 120, the
speed of one mix and of all mixes on one core as multiples of real time, and the same job
done mix by mix with the FluidSynth command and libsndfile's MP3 encoder.
"""

from __future__ import annotations

import io
import subprocess
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import soundfile

from kit.band import Performance, perform
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Tag, plan_route
from kit.sound import encode_mp3, find_soundfont, mix_names, render_mixes, to_midi
from kit.sound.stems import mix_table
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Note, Tune
from kit.tune.pitch import NoteName, Pitch


def demo() -> Performance:
    """Seventy bars with a change in every bar and eighths in the melody."""
    steps = "CDEFGAB"
    bars = []
    for place in range(32):
        notes = tuple(
            Note(Fraction(i, 2), Fraction(1, 2), Pitch(steps[(place + i) % 7], 0, 4))
            for i in range(8)
        )
        symbol = ChordSymbol(NoteName(steps[place * 3 % 7]), "minor-seventh")
        bars.append(Bar(place + 1, notes, (ChordEvent(Fraction(0), symbol),)))
    sheet = Tune("Benchmark", tuple(bars))
    form = Form(tuple(Section("A", first, first + 7) for first in (0, 8, 16, 24)))
    route = plan_route(
        [Passage("head"), Passage("head", tag=Tag(2, 4))],
        form=form, head=sheet, order=range(32),
    )  # fmt: skip
    assert route.counted_bars == 70
    return perform(sheet, route, tempo_qpm=120, melody_program=65)


def ours(show: Performance, mixes: tuple[str, ...]) -> tuple[float, float]:
    """Give processor seconds and seconds of audio."""
    start = time.process_time()
    rendered = render_mixes(show, mixes)
    for mix in rendered.values():
        encode_mp3(mix)
    return time.process_time() - start, sum(mix.seconds for mix in rendered.values())


def one_by_one(show: Performance, mixes: tuple[str, ...]) -> float:
    """Render each mix with the FluidSynth command and encode it; seconds on the wall."""
    font = find_soundfont()
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        for mix in mixes:
            song = Path(folder, f"{mix}.mid")
            song.write_bytes(to_midi(show, players=mix_table().players(mix)))
            wave = song.with_suffix(".wav")
            subprocess.run(
                ["fluidsynth", "-ni", "-q", "-r", "48000", "-F", wave, font.path, song],
                check=True, capture_output=True,
            )  # fmt: skip
            audio, rate = soundfile.read(wave)
            soundfile.write(io.BytesIO(), audio, rate, format="MP3")
    return time.perf_counter() - start


def main() -> None:
    """Print the comparison."""
    show = demo()
    ours(show.between(0, 8), ("demo",))  # load everything first
    spent, heard = ours(show, ("demo",))
    print(f"one demo mix:   {heard:.0f} s of audio in {spent:.2f} s: {heard / spent:.0f} x")
    spent, heard = ours(show, mix_names())
    count = len(mix_names())
    print(f"all {count} mixes: {heard:.0f} s in {spent:.2f} s: {heard / spent:.0f} x")
    other = one_by_one(show, mix_names())
    print(
        f"mix by mix with FluidSynth and libsndfile: {other:.2f} s: {heard / other:.0f} x"
    )


if __name__ == "__main__":
    main()
