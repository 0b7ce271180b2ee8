"""How long does an edit on the bench take, until both staves can be sent to the browser?

Run: ``python tests/benchmarks/editing.py``. Everything is warm, kernel side, demo lesson 1,
eight bars in two staves. *Drawn* is what the teacher waits for: the edit applied, both
staves engraved, compared and measured anew. *Saved* is the rest of the same call: tidying
the list and writing the file. The baseline draws one staff of the tune by music21 (parse,
transpose, export) and a fresh Verovio toolkit, in the same run. Processor time is what
counts on a machine that is busy otherwise.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
import time
from pathlib import Path

import music21
import verovio

from kit.lesson.lesson import open_lesson
from kit.levels.edit import Edit
from kit.widgets.editors.bench import BenchView, bench

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 15
BASELINE = "baseline: one staff, nothing kept"
DOS = ("accent", "octave down", "turn", "grace", "tenuto")


class TimedBench(BenchView):
    """Notes the moment at which the drawing is ready, before anything is saved."""

    drawn_at = 0.0
    drawn_cpu_at = 0.0

    def save(self, *, anyway: bool = False) -> None:
        """Note the moment, then save."""
        self.drawn_at = time.perf_counter()
        self.drawn_cpu_at = time.process_time()
        super().save(anyway=anyway)

    def _announce(self) -> None:
        """Leave the other widgets alone: they are drawn later, when it is quiet."""


def rounds(view: TimedBench) -> tuple[list[float], list[float], list[float]]:
    drawn, drawn_cpu, whole = [], [], []
    for number in range(ROUNDS):
        site = [one for one in view._sites if not one.is_rest][number % 12]
        view.select(site.id)
        edit = Edit(site.number, site.beat, DOS[number % len(DOS)])
        start, start_cpu = time.perf_counter(), time.process_time()
        view.apply(edit)
        drawn.append(1000 * (view.drawn_at - start))
        drawn_cpu.append(1000 * (view.drawn_cpu_at - start_cpu))
        whole.append(1000 * (time.perf_counter() - start))
    return drawn, drawn_cpu, whole


def undone(view: TimedBench) -> list[float]:
    found = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        view.undo()
        found.append(1000 * (view.drawn_at - start))
    return found


def looked(view: TimedBench) -> list[float]:
    found = []
    for site in view._sites[:ROUNDS]:
        view.select(site.id)
        start = time.perf_counter()
        view.look()
        found.append(1000 * (time.perf_counter() - start))
    return found


def naive(folder: Path) -> list[float]:
    """Redraw one staff with nothing kept: parse, transpose, export, load, draw."""
    found = []
    for _ in range(5):
        start = time.perf_counter()
        score = music21.converter.parse(folder / "tune.musicxml", forceSource=True)
        written = score.transpose("M6")
        text = music21.musicxml.m21ToXml.GeneralObjectExporter(written).parse().decode()
        toolkit = verovio.toolkit()
        toolkit.loadData(text)
        toolkit.renderToSVG(1)
        found.append(1000 * (time.perf_counter() - start))
    return found


def main() -> None:
    """Measure on a copy of the lesson and print."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "lamplighters-detour"
        shutil.copytree(ROOT / "lessons" / folder.name, folder)
        lesson = open_lesson(folder)
        bench(lesson).close()  # warm
        view = TimedBench(lesson, {"instrument": None, "level": None, "section": None})
        drawn, drawn_cpu, whole = rounds(view)
        rows = {
            "edit applied, both staves drawn": drawn,
            "the same, processor time": drawn_cpu,
            "the same with the file saved": whole,
            "undone, both staves drawn": undone(view),
            "what is possible, and suggestions": looked(view),
            BASELINE: naive(folder),
        }
    ratio = statistics.median(rows[BASELINE]) / statistics.median(drawn)
    for name, times in rows.items():
        p95 = sorted(times)[max(0, round(0.95 * len(times)) - 1)]
        print(f"{name:40} median {statistics.median(times):6.1f} ms, p95 {p95:6.1f} ms")
    print(f"the baseline takes {ratio:.1f} times as long as an edit with both staves")


if __name__ == "__main__":
    main()
