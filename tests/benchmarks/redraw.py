"""How long does a figure take to change, in the kernel?

Run it as ``python tests/benchmarks/redraw.py``. It changes instrument and section of the
excerpt of lesson 1 at random, first through all choices once, then again, and prints median
and 95th percentile, with the ratio to a plain way of doing the same with general-purpose
parts in the same run: music21 reads the file, transposes, takes the bars and writes them,
and a fresh Verovio toolkit draws them.
"""

from __future__ import annotations

import platform
import random
import statistics
import sys
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LESSON = ROOT / "lessons" / "lamplighters-detour"
TIMES = 200
PLAIN_TIMES = 12
SECTIONS = {"": (1, 32), "A": (1, 8), "A2": (9, 16), "B": (17, 24), "A3": (25, 32)}


def measured_ms(do: Callable[[], object], times: int) -> list[float]:
    """Time a thing several times, in milliseconds, shortest first."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        do()
        spent.append(1000 * (time.perf_counter() - start))
    return sorted(spent)


def report(name: str, spent: list[float]) -> float:
    """Print median and 95th percentile; give the median."""
    median = statistics.median(spent)
    high = spent[min(len(spent) - 1, int(0.95 * len(spent)))]
    print(
        f"{name:34} median {median:7.1f} ms   95 % below {high:7.1f} ms   n = {len(spent)}"
    )
    return median


def plain_redraw(interval: str, bars: tuple[int, int]) -> str:
    """Draw bars of the tune for an instrument with general-purpose parts alone."""
    import verovio
    from music21 import converter
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    score = converter.parse(LESSON / "tune.musicxml", forceSource=True)
    part = score.parts[0].transpose(interval).measures(*bars)
    toolkit = verovio.toolkit()
    toolkit.setOptions({"adjustPageHeight": True, "pageHeight": 60000})
    toolkit.loadData(GeneralObjectExporter(part).parse().decode())
    return str(toolkit.renderToSVG(1))


def main() -> None:
    """Measure and print."""
    start = time.perf_counter()
    import kit

    imported_ms = 1000 * (time.perf_counter() - start)
    lesson = kit.open_lesson(LESSON)
    start = time.perf_counter()
    view = kit.excerpt(lesson)
    first_ms = 1000 * (time.perf_counter() - start)
    chance = random.Random(1)
    horns = [horn.slug for horn in lesson.settings.instruments]

    print(f"{platform.platform()}, Python {platform.python_version()}")
    print(
        ", ".join(f"{name} {version(name)}" for name in ("verovio", "music21", "anywidget"))
    )
    print(f"import kit {imported_ms:.1f} ms; first excerpt, lesson read, {first_ms:.0f} ms")
    pairs = [(horn, section) for horn in horns for section in SECTIONS]
    chance.shuffle(pairs)
    turns = iter(pairs)

    def choose_new() -> None:
        horn, section = next(turns)
        view.choose(instrument=horn, section=section)

    def choose_any() -> None:
        horn, section = chance.choice(pairs)
        view.choose(instrument=horn, section=section)

    changed = report(
        "a choice made for the first time", measured_ms(choose_new, len(pairs))
    )
    report("a choice made again", measured_ms(choose_any, TIMES))
    plain = report(
        "the plain way",
        measured_ms(
            lambda: plain_redraw(
                chance.choice(["M6", "M9", "M2", "M13"]),
                chance.choice(list(SECTIONS.values())),
            ),
            PLAIN_TIMES,
        ),
    )
    print(f"ratio of the plain way to a first choice {plain / changed:.1f}")


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
