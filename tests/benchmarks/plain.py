"""How long does a plain pipeline of the same general-purpose parts take for a lesson?

    python tests/benchmarks/plain.py                  lesson 1, all of it, one process
    python tests/benchmarks/plain.py --workers 2      two processes
    python tests/benchmarks/plain.py --share 0.2      a fifth, the rest extrapolated by kind

The pipeline is what a capable programmer would write in an afternoon. It is given, free of
charge, what has no general-purpose part: the concert score of each level and the notes that
the band plays at each tempo. From there on, timed from the first import:

* nbconvert runs the notebook once; music21 reads the score of each level once;
* for each level and instrument music21 transposes the score and writes the part, a fresh
  Verovio toolkit draws it, and nbconvert's stock web-PDF exporter prints the notebook's
  cells for that level with the drawing below them;
* for each level, tempo and mix, and for each loop, pretty_midi writes the notes, the
  ``fluidsynth`` command renders them with the SoundFont that the kit uses, and ``ffmpeg``
  encodes the result at the bit rate that the kit uses.

It is spared what a build makes besides: pages with their own drawings and audio, loudness
to a target, checks, attachments, stills, running orders, bundles. Scripts that the stock
HTML takes from the network are left out, so that nothing waits for them.
"""

from __future__ import annotations

import argparse
import functools
import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from kit.band.events import Performance
from kit.band.loop import loop_of
from kit.lesson.lesson import Lesson, open_lesson
from kit.sound.mix_names import mix_table
from kit.sound.soundfont import find_soundfont
from kit.tracks.audio import FILE_KBPS
from kit.tracks.rendition import loop_rendition, rendition
from kit.tune.musicxml.write import write_musicxml

LESSON = Path(__file__).resolve().parents[2] / "lessons" / "lamplighters-detour"
DRUMS = ("drums", "count", "click")
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


@dataclass(frozen=True, slots=True)
class Handout:
    """A part and its handout; its size is one."""

    name: str
    level: str
    interval: str
    score: str
    kind: str = "handout"
    size: float = 1.0


@dataclass(frozen=True, slots=True)
class Sound:
    """A mix or a loop, as the notes of its players; its size is its seconds."""

    name: str
    kind: str
    size: float
    tempo_qpm: float
    programs: Mapping[str, int]
    notes: Mapping[str, Sequence[tuple[int, int, float, float]]]


Item = Handout | Sound


@dataclass(frozen=True, slots=True)
class Place:
    """What every item needs to know."""

    folder: Path
    notebook: str
    font: Path
    chromium: str


def items(lesson: Lesson, manifest: Mapping[str, Any] | None = None) -> list[Item]:
    """List what has to be made: what a manifest of a build lists, or all there would be."""
    return [*handouts(lesson), *sounds(lesson, manifest or planned(lesson))]


def handouts(lesson: Lesson) -> Iterator[Handout]:
    """Yield every level for every instrument."""
    for level in lesson.levels:
        score = write_musicxml(level.sheet)
        for horn in lesson.settings.instruments:
            interval = horn.written_above_concert.name
            yield Handout(f"{level.name}-{horn.slug}", level.name, interval, score)


def planned(lesson: Lesson) -> dict[str, Any]:
    """List the audio that a build would make, as its manifest does."""
    from kit.build._audio_files import audio_percents
    from kit.tracks.loops import level_loops

    audio = lesson.settings.audio
    files = []
    for level in lesson.level_names:
        files += [
            {"kind": "audio", "level": level, "mix": mix, "tempo_percent": percent}
            for percent in audio_percents(lesson)
            for mix in audio.mixes_at(percent)
        ]
        files += [
            {"kind": "loop", "level": level, "mix": "demo", "bars": one.name}
            for one in (level_loops(lesson, level) if audio.loops else ())
        ]
    return {"files": files}


def sounds(lesson: Lesson, manifest: Mapping[str, Any]) -> Iterator[Sound]:
    """Yield every mix and loop that a manifest lists."""
    performed = functools.cache(
        lambda level, percent: rendition(lesson, level, tempo_percent=percent).perform()
    )
    for file in manifest["files"]:
        level, mix = file.get("level"), file.get("mix")
        if file["kind"] == "audio":
            percent = file["tempo_percent"]
            yield sound(f"{level}-{mix}-{percent}", "mix", performed(level, percent), mix)
        elif file["kind"] == "loop":
            first, last = map(int, file["bars"].split("-"))
            show = loop(lesson, level, first, last)
            yield sound(f"{level}-loop-{first}-{last}", "loop", show, mix)


def loop(lesson: Lesson, level: str, first: int, last: int) -> Performance:
    """Cut the bars of a loop out of a performance."""
    plan = loop_rendition(lesson, level)
    numbers = [0 if bar.is_pickup else bar.number for bar in plan.route.bars]
    start = numbers.index(first)
    bars = plan.route.bars[start : start + last - first + 1]
    if bars[-1].number != last:
        raise ValueError(f"bars {first} to {last} are not played in a row")
    return loop_of(plan.perform(), bars)


def sound(name: str, kind: str, show: Performance, mix: str) -> Sound:
    """Take the notes of a mix out of a performance."""
    notes = {
        player: tuple((e.midi, e.velocity, e.start_s, e.end_s) for e in show.of(player))
        for player in mix_table().players(mix)
    }
    return Sound(name, kind, show.seconds, show.tempo_qpm, dict(show.programs), notes)


def executed(folder: Path) -> str:
    """Run the lesson's notebook and give it as JSON."""
    import nbformat
    from nbconvert.preprocessors import ExecutePreprocessor

    notebook = nbformat.read(folder / "lesson.ipynb", as_version=4)
    # Cells know by this that no one is sitting there, as in a build of the kit.
    os.environ["KIT_BUILDING"] = "1"
    ExecutePreprocessor(timeout=300).preprocess(notebook, {"metadata": {"path": folder}})
    return json.dumps(notebook)


@functools.cache
def concert_score(musicxml: str) -> Any:
    """Read a level's score."""
    from music21 import converter

    return converter.parse(musicxml, format="musicxml")


def make(item: Item, place: Place) -> float:
    """Make one item and give the seconds it took."""
    start = time.perf_counter()
    if isinstance(item, Handout):
        make_handout(item, place)
    else:
        make_sound(item, place)
    return time.perf_counter() - start


def make_handout(item: Handout, place: Place) -> None:
    """Write the part, draw it and print it."""
    part = written_part(item)
    (place.folder / f"{item.name}.musicxml").write_bytes(part)
    pdf = printed(with_drawings(place.notebook, drawn(part.decode())), item.level, place)
    if not pdf.startswith(b"%PDF"):
        raise ValueError(f"{item.name}: this is no PDF")
    (place.folder / f"{item.name}.pdf").write_bytes(pdf)


def written_part(item: Handout) -> bytes:
    """Transpose the score and write it as MusicXML."""
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    part = concert_score(item.score).transpose(item.interval)
    return bytes(GeneralObjectExporter(part).parse())


def drawn(musicxml: str) -> list[str]:
    """Draw a part as SVG pages with a fresh toolkit."""
    import verovio

    toolkit = verovio.toolkit()
    # As wide as the text of the stock page, so that nothing is cut off.
    toolkit.setOptions({"adjustPageHeight": True, "pageWidth": 1600, "scale": 40})
    if not toolkit.loadData(musicxml):
        raise ValueError("Verovio cannot read the part")
    return [toolkit.renderToSVG(page + 1) for page in range(toolkit.getPageCount())]


def with_drawings(notebook: str, pages: Sequence[str]) -> Any:
    """Put a cell with drawings at the end of a notebook."""
    import nbformat
    from nbformat.v4 import new_code_cell, new_output

    node = nbformat.reads(notebook, as_version=4)
    shown = [new_output("display_data", data={"image/svg+xml": page}) for page in pages]
    node.cells.append(new_code_cell("", outputs=shown))
    return node


def printed(notebook: Any, level: str, place: Place) -> bytes:
    """Print the cells of a level with nbconvert's stock web-PDF exporter."""
    from nbconvert.exporters import WebPDFExporter
    from traitlets.config import Config

    use_chromium(place.chromium)
    tags = {tag for cell in notebook.cells for tag in cell.metadata.get("tags", ())}
    others = {tag for tag in tags if tag.startswith("level:")} - {f"level:{level}"}
    removed = {"enabled": True, "remove_cell_tags": {"page-only", *others}}
    exporter = WebPDFExporter(
        config=Config({"TagRemovePreprocessor": removed}),
        disable_sandbox=True, browser_args=["--disable-gpu"], exclude_input=True,
        require_js_url="", mathjax_url="", mermaid_js_url="",
    )  # fmt: skip
    return bytes(exporter.from_notebook_node(notebook)[0])


@functools.cache
def use_chromium(program: str) -> None:
    """Let Playwright start the installed browser where it is not told of another."""
    from playwright.async_api import BrowserType

    BrowserType.launch = functools.partialmethod(
        BrowserType.launch, executable_path=program
    )


def make_sound(item: Sound, place: Place) -> None:
    """Write the notes, render and encode them."""
    import pretty_midi

    song = pretty_midi.PrettyMIDI(initial_tempo=item.tempo_qpm)
    for player, notes in item.notes.items():
        band = pretty_midi.Instrument(
            item.programs.get(player, 0), is_drum=player in DRUMS, name=player
        )
        band.notes = [
            pretty_midi.Note(velocity, midi, start, end)
            for midi, velocity, start, end in notes
        ]
        song.instruments.append(band)
    midi = place.folder / f"{item.name}.mid"
    song.write(str(midi))
    wave = midi.with_suffix(".wav")
    subprocess.run(
        ["fluidsynth", "-ni", "-q", "-r", "48000", "-F", wave, place.font, midi],
        check=True, capture_output=True,
    )  # fmt: skip
    subprocess.run(
        ["ffmpeg", "-y", "-v", "error", "-i", wave, "-b:a", f"{FILE_KBPS}k",
         midi.with_suffix(".mp3")],
        check=True, capture_output=True,
    )  # fmt: skip
    wave.unlink()


def sampled(every: Sequence[Item], share: float) -> list[Item]:
    """Give a random share of each kind, at least two items, in the order given."""
    chance = random.Random(8)
    kept: set[str] = set()
    for kind in dict.fromkeys(item.kind for item in every):
        names = [item.name for item in every if item.kind == kind]
        count = max(min(2, len(names)), round(share * len(names)))
        kept.update(chance.sample(names, count))
    return [item for item in every if item.name in kept]


def measure(lesson: Lesson, every: Sequence[Item], *, workers: int, share: float) -> float:
    """Run the pipeline, print what it took and give the seconds of the whole."""
    chosen = sampled(every, share) if share < 1 else list(every)
    chromium = os.environ.get("KIT_CHROMIUM") or next(
        filter(None, map(shutil.which, CHROMIUM_NAMES))
    )
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        notebook = executed(lesson.folder)
        if workers == 1:
            for score in dict.fromkeys(i.score for i in every if isinstance(i, Handout)):
                concert_score(score)
        opening_s = time.perf_counter() - start
        place = Place(Path(folder), notebook, find_soundfont().path, chromium)
        start = time.perf_counter()
        spent = all_made(chosen, place, workers)
        wall_s = time.perf_counter() - start
    print(f"notebook and scores {opening_s:.1f} s; SoundFont {place.font.name}")
    whole_s = extrapolated(every, chosen, spent)
    return opening_s + wall_s * whole_s / sum(spent)


def all_made(chosen: Sequence[Item], place: Place, workers: int) -> list[float]:
    """Make items in one process or in several, and give the seconds of each."""
    if workers == 1:
        return [make(item, place) for item in chosen]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return list(pool.map(make, chosen, [place] * len(chosen)))


def extrapolated(
    every: Sequence[Item], chosen: Sequence[Item], spent: Sequence[float]
) -> float:
    """Print seconds by kind and give those of all items, one after the other."""
    seconds: Counter[str] = Counter()
    sizes: Counter[str] = Counter()
    for item, item_s in zip(chosen, spent, strict=True):
        seconds[item.kind] += item_s
        sizes[item.kind] += item.size
    whole = 0.0
    for kind in seconds:
        made = sum(item.kind == kind for item in chosen)
        there = [item for item in every if item.kind == kind]
        estimate = seconds[kind] * sum(item.size for item in there) / sizes[kind]
        whole += estimate
        unit = "" if kind == "handout" else f", {sizes[kind]:.0f} s of music"
        print(
            f"{kind:8} {made:3} of {len(there):3} made in {seconds[kind]:6.1f} s{unit}; "
            f"all of them {estimate:6.1f} s{'' if made == len(there) else ' (estimated)'}"
        )
    return whole


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("lesson", nargs="?", type=Path, default=LESSON)
    parser.add_argument("--manifest", type=Path, help="take the list of audio from a build")
    parser.add_argument("--workers", type=int, default=1, help="processes")
    parser.add_argument("--share", type=float, default=1.0, help="of the items, at random")
    asked = parser.parse_args()
    lesson = open_lesson(asked.lesson)
    manifest = json.loads(asked.manifest.read_text("utf-8")) if asked.manifest else None
    every = items(lesson, manifest)
    whole_s = measure(lesson, every, workers=asked.workers, share=asked.share)
    kind = "measured" if asked.share >= 1 else "estimated"
    noun = "process" if asked.workers == 1 else "processes"
    print(f"whole plain pipeline, {asked.workers} {noun}, {kind}: {whole_s:.1f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
