"""Does the leak proof ever stop a build that gives nothing away? Builds many lessons and
asks.

    python tests/benchmarks/leak_alarms.py [--lessons 72] [--folder DIR]

The lessons are those of ``school_maker.py``, made unlike each other in what could deceive
the proof: levels equal to the free one in notes, tempo or all; one free level of several,
the middle one, the last, all, none; every kind of file given away; members' prose that
repeats the title, the summary, a sentence of a free cell or one that the kit computes;
loops; other tempos. Every build has to succeed. What is refused is printed with its
reason.

Exit code 1 if the proof stopped any of them.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import tomlkit
from school_maker import make_school

KINDS = [
    "handout", "part", "audio", "midi", "loop", "timing", "chapters", "captions",
]  # fmt: skip
HORNS = ["alto-sax", "trombone", "clarinet", "concert"]
ALARM = "strangers may not have"
Document = Any


def first_free(document: Document) -> None:
    """As a lesson begins."""


def all_kinds(document: Document) -> None:
    document["tiers"]["free_kinds"] = KINDS


def last_free(document: Document) -> None:
    document["tiers"]["free_levels"] = [document["levels"][-1]["name"]]
    document["tiers"]["free_kinds"] = KINDS


def middle_free(document: Document) -> None:
    levels = document["levels"]
    document["tiers"]["free_levels"] = [levels[len(levels) // 2]["name"]]
    document["tiers"]["free_kinds"] = KINDS


def all_free(document: Document) -> None:
    document["tiers"]["free_levels"] = [level["name"] for level in document["levels"]]
    document["tiers"]["free_kinds"] = ["audio", "handout", "midi"]


def none_free(document: Document) -> None:
    document["tiers"]["free_levels"] = []


def equal_tempos(document: Document) -> None:
    for level in document["levels"]:
        level["tempo"] = document["levels"][0]["tempo"]
    document["tiers"]["free_kinds"] = KINDS


def equal_levels(document: Document) -> None:
    """Levels that differ from the free one in nothing but their names."""
    first = document["levels"][0]
    for level in document["levels"][1:]:
        level["tempo"] = first["tempo"]
        level.pop("edits", None)
        level.pop("solo", None)
        if "route" in first:
            level["route"] = first["route"]
    document["tiers"]["free_kinds"] = KINDS


VARIETIES: tuple[Callable[[Document], None], ...] = (
    first_free, all_kinds, last_free, middle_free, all_free, none_free, equal_tempos,
    equal_levels,
)  # fmt: skip


def vary(lesson: Path, place: int) -> None:
    """Make a lesson unlike its neighbours."""
    path = lesson / "lesson.toml"
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    horns = HORNS[place % 3 : place % 3 + 2]
    document["instruments"], document["default_instrument"] = horns, horns[0]
    document["audio"] = {"mixes": ["backing", "demo"][: 1 + (place % 3 == 0)]}
    if place % 6 == 1:
        document["audio"]["loops"] = True
    if place % 9 == 2:
        document["audio"]["tempos"] = [80, 100]
    VARIETIES[place % len(VARIETIES)](document)
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    path = lesson / "lesson.ipynb"
    notebook = json.loads(path.read_text(encoding="utf-8"))
    free = next(cell for cell in notebook["cells"] if cell["cell_type"] == "markdown")
    title, summary = str(document["title"]), str(document["summary"])
    said = (
        f"This is {title}. {title} again, in the members' words: {title}!",
        f"{summary} What follows is for members of the school and nobody else at all.",
        "".join(free["source"]),
        "Put the instrument down for five minutes in every half hour. Play the head with "
        "the backing track at the full tempo.",
    )
    notebook["cells"].append(
        {
            "cell_type": "markdown", "id": "members", "metadata": {"tags": ["members"]},
            "source": said[place // 2 % len(said)],
        }
    )  # fmt: skip
    path.write_text(json.dumps(notebook), encoding="utf-8")


def measured(folder: Path, count: int) -> int:
    """Make the lessons, build them, and print what was refused."""
    made = make_school(folder / "lessons", count)
    lessons = [folder / "lessons" / source.slug for source in made]
    for place, lesson in enumerate(lessons):
        mark = lesson / ".varied"
        if not mark.exists():
            vary(lesson, place)
            mark.touch()
    start = time.monotonic()
    command = [sys.executable, "-m", "kit", "build", *map(str, lessons)]
    done = subprocess.run(
        [*command, "--out", str(folder / "out")],
        capture_output=True, text=True, check=False,
        env={**os.environ, "KIT_CACHE": str(folder / "cache")},
    )  # fmt: skip
    built = len(re.findall(r"(?m)^\S+ (?:built|is up to date):", done.stdout))
    refused = [
        line for line in done.stderr.splitlines() if re.match(r"error|.*: .*; ", line)
    ]
    alarms = [line for line in done.stderr.splitlines() if ALARM in line]
    print(f"{built} of {len(lessons)} lessons built in {time.monotonic() - start:.0f} s")
    for line in refused if built < len(lessons) else ():
        print(f"  {line}")
    print(f"{len(alarms)} stopped by the leak proof")
    for line in alarms:
        print(f"  {line}")
    return 1 if alarms else 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lessons", type=int, default=72)
    parser.add_argument("--folder", type=Path)
    options = parser.parse_args()
    if options.folder:
        options.folder.mkdir(parents=True, exist_ok=True)
        return measured(options.folder.resolve(), options.lessons)
    with tempfile.TemporaryDirectory() as folder:
        return measured(Path(folder), options.lessons)


if __name__ == "__main__":
    sys.exit(main())
