"""How fast is the audio made, against rendering each mix by itself?

Run by hand: ``python tests/benchmarks/audio.py``. Prints, for a 70-bar demo at 120, the
speed of one mix and of all mixes as multiples of real time on one core (processor time, of
this process and of those it starts), and the same job done mix by mix with the FluidSynth
command and libsndfile's MP3 encoder. Then the time until a section of a lesson can be
heard, in a fresh process with an empty cache.
"""

from __future__ import annotations

import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from fractions import Fraction
from pathlib import Path

import soundfile

from kit.band import Performance, perform
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Tag, plan_route
from kit.sound import encode_mp3, find_soundfont, mix_names, render_mixes, to_midi
from kit.sound.mix_names import mix_table
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


def processor_s() -> float:
    """Processor seconds of this process and of the finished ones it started."""
    child = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + child.ru_utime + child.ru_stime


def one_by_one(show: Performance, mixes: tuple[str, ...]) -> float:
    """Render each mix with the FluidSynth command and encode it; processor seconds."""
    font = find_soundfont()
    start = processor_s()
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
    return processor_s() - start


FIRST_SOUND = """
import time
start = time.perf_counter()
from kit.lesson import open_lesson
from kit.lesson.loops import stretch_audio
lesson = open_lesson("lessons/lamplighters-detour")
stretch_audio(lesson, "beginner", section="B")
print(time.perf_counter() - start, time.process_time())
"""


def first_sound() -> tuple[float, float]:
    """Seconds from an empty cache to the MP3 of eight bars: on the wall, of processor."""
    with tempfile.TemporaryDirectory() as cache:
        run = subprocess.run(
            [sys.executable, "-c", FIRST_SOUND],
            check=True, capture_output=True, text=True,
            env=os.environ | {"KIT_CACHE": cache},
        )  # fmt: skip
    wall, processor = run.stdout.split()
    return float(wall), float(processor)


def main() -> None:
    """Print the comparison."""
    show = demo()
    ours(show.between(0, 8), ("demo",))  # load everything first
    for title, mixes in (
        ("one demo mix", ("demo",)),
        ("demo, backing, melody", ("demo", "backing", "melody")),
        (f"all {len(mix_names())} mixes", mix_names()),
    ):
        spent, heard = ours(show, mixes)
        other = one_by_one(show, mixes)
        print(
            f"{title}: {heard:.0f} s of audio in {spent:.2f} s, {heard / spent:.0f} x; "
            f"mix by mix with FluidSynth {other:.2f} s, {heard / other:.0f} x"
        )
    wall, processor = first_sound()
    print(
        f"a section in the notebook, all cold: {wall:.2f} s on the wall, "
        f"{processor:.2f} s of processor"
    )


if __name__ == "__main__":
    main()
