"""How does the band play: each feel by its definition, each lesson by the ear's rules?

``python tests/benchmarks/groove.py [--seeds 12] [--judge] [--sentences]``

First table, by feel over tunes made by seeds (eight and sixteen bars, odd phrases, all
keys):

* *hits*: strokes of the definition (``tests/reference/feels.toml``) that came, per cent;
* *wrong*: strokes that must not be, for each hundred bars;
* *clave*: bars in which the figure turns round or is not there, per cent;
* *foreign*: chord strokes that already sound the next chord, per cent (where the definition
  wants the bar's own);
* *ahead*: chords that the bass does not lead into, per cent (where the definition does).

Second table, of all feels, and of the lessons by level:

* *stuck*: chord strokes on a top note that stays for more than four, per cent;
* *steps*: of the moves of the top note those of a tone or less, per cent;
* *clash*: chord strokes that rub against a melody note, per cent;
* *leaps*: bass moves over an octave, or twice one way by a tritone or more, per hundred;
* *root*: changes with their root under them, per cent;
* *led*: those that the bass reaches by a semitone, tone, fourth, fifth or octave, per cent;
* *alike*: the longest row of bars that the drums play alike.

A kit that lacks a feel plays what it would have chosen for such a tune: six-eight in
compound meters, else straight eighths. So the program also measures older versions of the
kit: put the other checkout first on PYTHONPATH, with this one's ``kit/band/groove.py``
copied into it where it lacks that module.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import groove_measures as measure
from groove_tunes import subject

from kit.band.feel import feel_names
from kit.lesson.lesson import open_lesson
from kit.tracks.rendition import rendition
from kit.tune.model import Meter

ROOT = Path(__file__).parents[2]
DEFINITIONS = ROOT / "tests" / "reference" / "feels.toml"
HEADS = ("stuck", "steps", "clash", "leaps", "root", "led", "alike")


def stand_in(name: str, meter: str) -> str:
    """Give the feel, or what an older kit has for such a tune."""
    if name in feel_names():
        return name
    return "six-eight" if Meter.parse(meter).is_compound else "straight-eighths"


def main() -> None:
    parser = argparse.ArgumentParser(description="Measure how the band plays.")
    parser.add_argument(
        "--seeds", type=int, default=6, help="tunes for each feel and meter"
    )
    parser.add_argument("--judge", action="store_true", help="take tunes kept for judging")
    parser.add_argument("--first", type=int, default=0, help="the first seed, even")
    parser.add_argument("--feels", nargs="*", help="only these")
    parser.add_argument("--lessons", type=Path, default=ROOT / "lessons")
    parser.add_argument("--sentences", action="store_true", help="say what was found where")
    arguments = parser.parse_args()
    definitions = tomllib.loads(DEFINITIONS.read_text(encoding="utf-8"))
    seeds = [arguments.first + 2 * n + arguments.judge for n in range(arguments.seeds)]
    rows = []
    print(f"{'feel':21}{'played as':18}  hits  wrong  clave foreign  ahead")
    for name, definition in definitions.items():
        if arguments.feels and name not in arguments.feels:
            continue
        heards = list(_of_feel(name, definition, seeds))
        rows.append((name, heards))
        played = " ".join(dict.fromkeys(stand_in(name, m) for m in definition["meters"]))
        print(f"{name:21}{played[:17]:18}{_definition_row(heards, definition)}", flush=True)
    print(f"\n{'':36}" + "".join(f"{head:>7}" for head in HEADS))
    for name, heards in rows:
        print(f"{name:36}{_ear_row(heards)}")
    print(f"{'all feels':36}{_ear_row([h for _, heards in rows for h in heards])}\n")
    for folder in sorted(path.parent for path in arguments.lessons.glob("*/lesson.toml")):
        _lesson(folder, say=arguments.sentences)


def _of_feel(name: str, definition: dict, seeds: Iterable[int]) -> Iterable[measure.Heard]:
    for meter in definition["meters"]:
        played = stand_in(name, meter)
        for seed in seeds:
            made = subject(seed, meter, jazzy=name in JAZZY)
            tempo_qpm = measure.tempo_of(definition, meter)
            yield measure.listen(
                made.tune, made.route, feel=played, tempo_qpm=tempo_qpm, seed=seed
            )


JAZZY = frozenset({
    "medium-swing", "fast-swing", "two-beat", "ballad", "jazz-waltz", "shuffle-blues",
    "bossa-nova", "samba", "son-montuno", "cha-cha", "second-line", "funk",
})  # fmt: skip
"""Feels whose tunes have sevenths."""


def _per(count: int, of: int, digits: int = 1) -> str:
    return f"{100 * count / of:7.{digits}f}" if of else "      -"


def _definition_row(heards: list[measure.Heard], definition: dict) -> str:
    bars = sum(len(heard.body) for heard in heards)
    total = sum(
        (measure.rule_score(h, r, definition) for h in heards for r in definition["rules"]),
        measure.Score(),
    )
    if definition.get("drums") is False:
        wrong = sum(len(h.inside(i, "drums")) > 0 for h in heards for i in h.body)
        total += measure.Score(wrong=(measure.Found("definition", 0, "drums"),) * wrong)
    text = _per(total.heard, total.due) + _per(len(total.wrong), bars)
    breaks = (
        [len(measure.clave_breaks(h, definition)) for h in heards]
        if "clave" in definition
        else []
    )
    text += _per(sum(breaks), bars if breaks else 0)
    foreign = (
        [measure.foreign_chords(h) for h in heards] if definition.get("own_chord") else []
    )
    text += _per(sum(len(f) for _, f in foreign), sum(n for n, _ in foreign))
    ahead = (
        [measure.roots_ahead(h, definition) for h in heards]
        if "ahead" in definition
        else []
    )
    return text + _per(sum(len(f) for _, f in ahead), sum(n for n, _ in ahead))


def _ear_row(heards: list[measure.Heard]) -> str:
    tops = [measure.top_line(heard) for heard in heards]
    rubs = [measure.clashes(heard) for heard in heards]
    bass = [measure.bass_line(heard) for heard in heards]
    notes = sum(line.notes for line in bass)
    changes = sum(line.changes for line in bass)
    return "".join(
        (
            _per(sum(top.stuck for top in tops), sum(top.strokes for top in tops)),
            _per(sum(top.steps for top in tops), sum(top.moves for top in tops)),
            _per(_struck(rubs), sum(count for count, _ in rubs)),
            _per(sum(line.wide + line.twice for line in bass), notes),
            _per(sum(line.rooted for line in bass), changes),
            _per(sum(line.led for line in bass), sum(line.walked for line in bass)),
            f"{max((measure.bars_alike(heard)[0] for heard in heards), default=0):7}",
        )
    )


def _struck(rubs: list[tuple[int, list[measure.Found]]]) -> int:
    return sum(len(found) for _, found in rubs)


def _lesson(folder: Path, *, say: bool) -> None:
    lesson = open_lesson(folder)
    for name in lesson.level_names:
        level = lesson.level(name)
        settings = level.settings
        show = rendition(lesson, name).perform()
        heard = measure.beside(
            level.sheet, level.route, show, feel=settings.feel,
            section_feels=dict(settings.band.section_feels),
        )  # fmt: skip
        title = f"{folder.name[:22]} {name} ({settings.feel})"
        print(f"{title[:36]:36}{_ear_row([heard])}")
        if say:
            found = [
                *measure.top_line(heard).found,
                *measure.clashes(heard)[1],
                *measure.bass_line(heard).found,
                *measure.bars_alike(heard)[1],
            ]
            for text, times in Counter(map(str, found)).items():
                print(f"    {text}" + (f" ({times} times)" if times > 1 else ""))


if __name__ == "__main__":
    main()
