"""How fast is the audio made, against rendering each mix by itself?

Run by hand: ``python tests/benchmarks/audio.py``. Prints, for a 70-bar demo at 120, the
speed of one mix and of all mixes as multiples of real time on one core (processor time, of
this process and of those it starts), and the same job done mix by mix with the FluidSynth
command and libsndfile's MP3 encoder. Then, each in a fresh process with an empty cache: the
time until a section of a lesson can be heard; all audio of the first demo lesson, stage by
stage, with the largest memory; and what a minute of music costs in memory.
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

from kit.band.events import Performance
from kit.band.perform import perform
from kit.band.soloist import Soloist
from kit.form.sections import Form, Section
from kit.route.plan import Passage, Tag, plan_route
from kit.sound.midi_file import to_midi
from kit.sound.mix_names import mix_names, mix_table
from kit.sound.render import encode_mp3, render_mixes
from kit.sound.soundfont import find_soundfont
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
    return perform(sheet, route, tempo_qpm=120, soloist=Soloist(65))


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
from kit.lesson.lesson import open_lesson
from kit.tracks.loops import stretch_audio
lesson = open_lesson("lessons/lamplighters-detour")
stretch_audio(lesson, "beginner", section="B")
print(time.perf_counter() - start, time.process_time())
"""


WHOLE_LESSON = """
import resource, threading, time
from collections import defaultdict
from functools import wraps
import kit.sound.render as render, kit.sound._stems as stems
from kit.lesson.lesson import open_lesson
from kit.tracks import loops, rendition
from kit.tracks.audio import level_audio, level_midi
from kit.sound.synth import Midirenderer

spent, inner = defaultdict(float), threading.local()

def timed(home, name, stage):
    function = getattr(home, name)
    @wraps(function)
    def stopped(*args, **more):
        outer, inner.s = getattr(inner, "s", 0.0), 0.0
        start = time.thread_time()
        try:
            return function(*args, **more)
        finally:
            whole = time.thread_time() - start
            spent[stage] += whole - inner.s
            inner.s = outer + whole
    setattr(home, name, stopped)

timed(rendition, "perform", "performing")
timed(Midirenderer, "render", "synthesiser")
timed(stems, "to_midi", "MIDI for the synthesiser")
timed(render, "sum_stems", "drums and summing")
timed(render, "normalise", "loudness and peaks")
timed(render, "encode", "MP3")
lesson = open_lesson("lessons/lamplighters-detour")
start = time.process_time()
for level in lesson.level_names:
    for percent in lesson.settings.audio.tempos:
        level_audio(
            lesson, level, lesson.settings.audio.mixes_at(percent), tempo_percent=percent
        )
    for loop in loops.level_loops(lesson, level):
        loops.loop_audio(lesson, level, loop)
    level_midi(lesson, level)
whole = time.process_time() - start
for stage, seconds in sorted(spent.items(), key=lambda row: -row[1]):
    print(f"  {stage} {seconds:.1f} s")
mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"  all {whole:.1f} s of processor, at most {mib:.0f} MiB")
"""

MEMORY = """
import resource, sys
from kit.lesson.lesson import open_lesson
from kit.tracks.audio import level_audio
lesson = open_lesson("lessons/lamplighters-detour")
made = level_audio(lesson, "beginner", choruses=int(sys.argv[1]))
mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(made["demo"].seconds / 60, mib)
"""


def afresh(script: str, *arguments: str) -> str:
    """Run a script in a fresh process with an empty cache and give what it prints."""
    with tempfile.TemporaryDirectory() as cache:
        run = subprocess.run(
            [sys.executable, "-c", script, *arguments],
            check=True, capture_output=True, text=True,
            env=os.environ | {"KIT_CACHE": cache},
        )  # fmt: skip
    return run.stdout


def memory() -> tuple[float, float, float]:
    """Give minutes and MiB of a long level, and the MiB of each minute more."""
    short, long = (
        [float(word) for word in afresh(MEMORY, str(choruses)).split()]
        for choruses in (2, 8)
    )
    return long[0], long[1], (long[1] - short[1]) / (long[0] - short[0])


def main() -> None:
    """Print the comparison."""
    # First, because a process inherits the largest memory of the one that starts it.
    wall, processor = afresh(FIRST_SOUND).split()
    print(
        f"a section in the notebook, all cold: {float(wall):.2f} s on the wall, "
        f"{float(processor):.2f} s of processor"
    )
    print("all audio of lamplighters-detour in one process:")
    print(afresh(WHOLE_LESSON), end="")
    minutes, mib, each = memory()
    print(
        f"three mixes of {minutes:.1f} minutes: {mib:.0f} MiB, {each:.0f} MiB for a minute"
    )
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


if __name__ == "__main__":
    main()
