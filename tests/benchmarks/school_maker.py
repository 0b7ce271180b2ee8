"""Make a school of many lessons from traditional tunes, always the same one.

    python tests/benchmarks/school_maker.py FOLDER [--lessons 500] [--mixes backing]

Each lesson is what ``kit new`` makes of the tune: form found, levels drafted, notebook
written. Then it is made unlike its neighbours as the lessons of a real school are: one to
three levels, four to nine instruments, three of four on a course. Any eighteen lessons in a
row hold each pair of these counts once, so that a rate measured over many lessons does not
hang on which they are.

The collections have no changes, and a lesson without them has no band. So six of seven
tunes get plain ones, a chord a bar: of the key's main chords the one that most of the bar's
time belongs to. The seventh stays as it is.

The tunes are those that the kit reads strictly, of four printed collections of traditional
tunes that music21 ships, taken by turns. Left out are tunes that name a composer, and
music21's other collections: of the fife tunes nobody knows the source, and the Essen
folk songs came with conditions on their use.

Sources: music21's corpus; Aird (1782 to 1801), Ryan's Mammoth Collection (1883), Bruce and
Stokoe's Northumbrian Minstrelsy (1882), O'Neill's Music of Ireland (1903).
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import zip_longest
from multiprocessing import get_context
from pathlib import Path

import tomlkit

from kit.authoring.start import slug_of, start_lesson
from kit.errors import KitError
from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol
from kit.tune.model import Bar, ChordEvent, Tune
from kit.tune.musicxml.write import write_musicxml
from kit.tune.pitch import NoteName

COLLECTIONS = (
    ("airdsAirs", "*.abc", "Aird's Airs", 1801),
    ("ryansMammoth", "*.abc", "Ryan's Mammoth Collection", 1883),
    ("miscFolk", "northumbrian*.abc", "Northumbrian Minstrelsy", 1882),
    ("oneills1850", "*.abc", "O'Neill's Music of Ireland", 1903),
)
PLACES = re.compile(r'"?(irish|scotch|english|welsh|trad\w*)\.?"?', re.IGNORECASE)
"""What stands in a composer's field where there is no composer."""
HORNS = (
    "alto-sax", "tenor-sax", "trumpet", "clarinet", "flute", "trombone", "soprano-sax",
    "baritone-sax", "concert",
)  # fmt: skip
MAIN_CHORDS = {
    True: ((0, "minor"), (1, "dominant"), (-1, "minor"), (-2, "major")),
    False: ((0, "major"), (1, "dominant"), (-1, "major"), (3, "minor")),
}
"""Of minor and major keys: fifths above the tonic, and kind; the earlier wins a draw."""
FIRST_DAY = date(2017, 1, 6)
"""Of publishing, a lesson a week from then on."""


@dataclass(frozen=True, slots=True)
class Source:
    """A tune of the school: where it is from, and what its lesson is called."""

    place: int
    text: str
    title: str
    slug: str
    collection: str
    year: int

    @property
    def level_count(self) -> int:
        return 1 + (self.place + self.place // 6) % 3

    @property
    def has_changes(self) -> bool:
        return self.place % 7 != 6

    @property
    def horns(self) -> tuple[str, ...]:
        return HORNS[: 4 + self.place % 6]


@dataclass(slots=True)
class Choice:
    """The tunes chosen, and how many were passed over for which reason."""

    sources: list[Source]
    passed_over: Counter[str]


def corpus_tunes() -> Iterator[tuple[str, str, int]]:
    """Yield text, collection and year of every tune, the collections by turns."""
    import music21

    root = Path(music21.__file__).parent / "corpus"
    columns = []
    for folder, pattern, name, year in COLLECTIONS:
        texts = [
            block
            for path in sorted((root / folder).glob(pattern))
            for block in re.split(
                r"(?m)^(?=X:)", path.read_text(encoding="utf-8", errors="replace")
            )[1:]
        ]
        columns.append([(text, name, year) for text in texts])
    for row in zip_longest(*columns):
        yield from (tune for tune in row if tune is not None)


def choose(count: int) -> Choice:
    """Take the first tunes that a school may have, each title once."""
    choice = Choice([], Counter())
    taken: set[str] = set()
    for text, collection, year in corpus_tunes():
        if len(choice.sources) == count:
            break
        named = [found.strip() for found in re.findall(r"(?m)^C:(.*)$", text)]
        if any(name and not PLACES.fullmatch(name) for name in named):
            choice.passed_over["names a composer"] += 1
            continue
        try:
            title = " ".join(read_abc(text, source="tune.abc").title.split())
        except KitError as error:
            choice.passed_over[kind_of(str(error))] += 1
            continue
        slug = slug_of(title)
        if not title or slug in taken:
            choice.passed_over["a title that is taken or missing"] += 1
            continue
        taken.add(slug)
        place = len(choice.sources)
        choice.sources.append(Source(place, text, title, slug, collection, year))
    return choice


def kind_of(sentence: str) -> str:
    """Give a message without its place and numbers, so that equal ones can be counted."""
    words = re.sub(r"^(error: )?[^:]*: ", "", sentence)
    return re.sub(r"\d+(\.\d+)?", "N", re.sub(r'"[^"]*"|“[^”]*”', '"…"', words))[:110]


def make_lesson(source: Source, school: Path, mixes: tuple[str, ...]) -> str:
    """Make one lesson folder; give the sentence of a refusal, or nothing."""
    if (school / source.slug).exists():
        return ""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / f"{source.slug}.abc"
        file.write_text(source.text, encoding="utf-8")
        try:
            if source.has_changes:
                tune = with_changes(read_abc(source.text, source=file.name))
                file = file.with_suffix(".musicxml")
                file.write_text(write_musicxml(tune), encoding="utf-8")
            # Finished aside and moved last: a stop leaves no half lesson in the school.
            made = start_lesson(file, Path(folder) / "made", title=source.title)
        except KitError as error:
            return str(error)
        names = settle(made, source, mixes)
        leave_out_levels(made, names)
        shutil.move(made, school / source.slug)
    return ""


def with_changes(tune: Tune) -> Tune:
    """Put plain changes over a tune, a chord a bar."""
    return replace(
        tune,
        bars=tuple(
            bar
            if bar.pickup
            else replace(bar, chords=(ChordEvent(Fraction(0), best(bar)),))
            for bar in tune.bars
        ),
    )


def best(bar: Bar) -> ChordSymbol:
    """Give the main chord of the key that most of a bar's time belongs to."""
    tonic = bar.key.tonic.fifths
    chords = [
        ChordSymbol(NoteName.from_fifths(tonic + fifths), kind)
        for fifths, kind in MAIN_CHORDS[bar.key.is_minor]
    ]

    def share(chord: ChordSymbol) -> Fraction:
        tones = chord.pitch_classes
        return sum(
            (n.duration for n in bar.notes if n.pitch and n.pitch.midi % 12 in tones),
            Fraction(0),
        )

    return max(chords, key=share)


def settle(lesson: Path, source: Source, mixes: Sequence[str]) -> list[str]:
    """Write what only a teacher knows into lesson.toml; give the levels left out."""
    path = lesson / "lesson.toml"
    document = tomlkit.parse(path.read_text(encoding="utf-8"))
    horns = tomlkit.array()
    horns.extend(source.horns)
    levels = document["levels"]
    gone = [str(level["name"]) for level in levels[source.level_count :]]
    del levels[source.level_count :]
    document["instruments"] = horns
    document["school"] = "School of a Thousand Tunes"
    document["summary"] = f"A traditional tune, printed in {source.collection}."
    document["rights"] = {
        "basis": "public domain", "anonymous": True, "published": source.year,
    }  # fmt: skip
    document["tiers"]["free_levels"] = ["beginner"]
    table = {"published": FIRST_DAY + timedelta(weeks=source.place)}
    if source.place % 4 != 3:
        table |= {"course": source.collection, "order": source.place}
    document["catalogue"] = table
    document["audio"] = {"mixes": list(mixes)}
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    return gone


def leave_out_levels(lesson: Path, names: Sequence[str]) -> None:
    """Take levels out of the notebook, and their files out of the folder."""
    for name in names:
        for path in (lesson / "levels").glob(f"{name}*"):
            path.unlink()
    path = lesson / "lesson.ipynb"
    notebook = json.loads(path.read_text(encoding="utf-8"))
    marks = {f"level:{name}" for name in names}
    notebook["cells"] = [
        cell
        for cell in notebook["cells"]
        if not marks & set(cell["metadata"].get("tags", ()))
    ]
    text = json.dumps(notebook, indent=1, ensure_ascii=False) + "\n"
    path.write_text(text, encoding="utf-8")


def make_school(
    school: Path, count: int, *, mixes: Sequence[str] = ("backing",)
) -> list[Source]:
    """Make a school, or what is missing of it, on all cores, and print how it went."""
    start = time.monotonic()
    choice = choose(count)
    print(f"{len(choice.sources)} tunes chosen in {time.monotonic() - start:.1f} s")
    for reason, number in choice.passed_over.most_common():
        print(f"  passed over {number:4}: {reason}")
    school.mkdir(parents=True, exist_ok=True)
    missing = [one for one in choice.sources if not (school / one.slug).exists()]
    start = time.monotonic()
    made: list[Source] = [one for one in choice.sources if one not in missing]
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        todo = [pool.submit(make_lesson, one, school, tuple(mixes)) for one in missing]
        for source, future in zip(missing, todo, strict=True):
            refusal = future.result()
            if refusal:
                print(f"  refused: {source.title}: {refusal}")
            else:
                made.append(source)
    passed = time.monotonic() - start
    if missing:
        rate = len(missing) / passed
        print(
            f"{len(missing)} lessons started in {passed:.1f} s, {rate:.2f} lessons a second"
        )
    return sorted(made, key=lambda one: one.place)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--lessons", type=int, default=500)
    parser.add_argument("--mixes", default="backing", help="separated by commas")
    options = parser.parse_args()
    made = make_school(options.folder, options.lessons, mixes=options.mixes.split(","))
    return 0 if len(made) == options.lessons else 1


if __name__ == "__main__":
    sys.exit(main())
