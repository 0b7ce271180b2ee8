"""How much of what the kit drafts would a strict teacher strike out?

    python tests/benchmarks/referee.py                      all tunes (10 minutes)
    python tests/benchmarks/referee.py --every 8            every 8th of them
    python tests/benchmarks/referee.py --sample 200 FILE    edits to read by hand, as text

Drafts the levels that a new lesson begins with for some 290 tunes of all idioms
(`referee_tunes`), reads the finished music of each level by rules of its own
(`referee_rules`, `referee_idioms`), and counts rule by rule the edits to strike out, with
the three worst examples of each. Tunes are parted in two halves by a hash of their names:
rules of drafts were set while looking at "tuned" only.

Also told: in how many tunes the difficulty as printed rises from level to level, what is
wrong with routes and tempi, and the time of a draft.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from referee_idioms import findings, level_faults
from referee_music import Finding, Level, level_of
from referee_tunes import Case, cases

from kit.authoring._start_levels import start_levels
from kit.levels.difficulty import difficulty
from kit.levels.edits import apply_edits
from kit.tune.model import Bar, Tune

HALVES = ("tuned", "judged")
WORST = 3


@dataclass
class Judged:
    """What was found of one tune."""

    case: Case
    levels: list[Level]
    found: dict[str, list[Finding]]
    faults: list[str]
    difficulties: list[float]
    seconds: float

    @property
    def rises(self) -> bool:
        pairs = zip(self.difficulties, self.difficulties[1:], strict=False)
        return all(low < high for low, high in pairs)


def judge(case: Case) -> Judged:
    """Draft the levels of a tune and read them."""
    began = time.perf_counter()
    drafted = start_levels(case.tune, case.form, say=lambda words: None)
    seconds = time.perf_counter() - began
    levels, found, faults, figures = [], {}, [], []
    heads = {start.name: start.head for start in drafted}
    for start in drafted:
        below = heads[start.below] if start.below else start.head
        level = level_of(
            start.name,
            case.idiom,
            case.tune,
            below,
            start.edits,
            tempo=start.tempo,
            route=start.route,
        )
        pulse = float(start.head.meter.pulse)
        figures.append(difficulty(start.head, start.tempo * pulse).overall)
        faults += [f"{start.name}: {words}" for words in level_faults(level)]
        if start.below:
            levels.append(level)
            found[start.name] = findings(level)
    return Judged(case, levels, found, faults, figures, seconds)


@dataclass
class Score:
    """Counts over some tunes."""

    tunes: int = 0
    edits: int = 0
    flagged: int = 0
    rising: int = 0
    seconds: float = 0.0
    by_rule: Counter[str] = field(default_factory=Counter)
    by_idiom: dict[str, list[int]] = field(
        default_factory=lambda: defaultdict(lambda: [0, 0])
    )
    by_kind: Counter[str] = field(default_factory=Counter)
    faults: Counter[str] = field(default_factory=Counter)
    worst: dict[str, list[tuple[float, str]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def add(self, judged: Judged) -> None:
        self.tunes += 1
        self.rising += judged.rises
        self.seconds += judged.seconds
        self.faults.update(judged.faults)
        for level in judged.levels:
            found = judged.found[level.name]
            struck = {item.edit for item in found}
            self.edits += len(level.edits)
            self.flagged += len(struck)
            row = self.by_idiom[judged.case.idiom]
            row[0] += len(level.edits)
            row[1] += len(struck)
            self.by_kind.update(edit.do for edit in level.edits)
            self.by_rule.update({(item.rule, item.edit): 1 for item in found}.keys())
            for item in found:
                place = f"{judged.case.name}, {level.name}, {level.edits[item.edit]}"
                self.worst[item.rule].append((item.how_bad, f"{place}: {item.words}"))

    def tell(self, title: str) -> None:
        rules: Counter[str] = Counter()
        for (rule, _), times in self.by_rule.items():
            rules[rule] += times
        share = 100 * self.flagged / (self.edits or 1)
        print(f"\n== {title}: {self.tunes} tunes, {self.edits} edits")
        print(f"to strike out: {self.flagged} edits, {share:.1f} %")
        print(f"difficulty as printed rises: {self.rising} of {self.tunes} tunes, "
              f"{100 * self.rising / (self.tunes or 1):.1f} %")  # fmt: skip
        print(f"a draft of all levels: {self.seconds / (self.tunes or 1):.2f} s a tune")
        for rule, times in rules.most_common():
            print(f"  {times:5} {rule}")
            ordered = sorted(self.worst[rule], key=lambda item: (-item[0], item[1]))
            for _, words in ordered[:WORST]:
                print(f"          {words}")
        print("  by idiom (edits, to strike out):")
        for idiom, (edits, struck) in sorted(self.by_idiom.items()):
            print(f"  {idiom:12} {edits:5} {struck:5} {100 * struck / (edits or 1):5.1f} %")
        print("  levels as a whole:", dict(sorted(self.faults.items())) or "nothing")
        print("  edits by kind:", dict(self.by_kind.most_common()))


# --- edits to read by hand


def sample(judged: list[Judged], count: int) -> Iterator[str]:
    """Draw edits at random and show the bar before and after, with chords."""
    every = [
        (one, level, number)
        for one in judged
        for level in one.levels
        for number in range(len(level.edits))
    ]
    chosen = random.Random("to be read").sample(every, min(count, len(every)))
    chosen.sort(key=lambda item: (item[0].case.name, item[1].name, item[2]))
    for place, (one, level, number) in enumerate(chosen, 1):
        edit = level.edits[number]
        upto = apply_edits(level.below.tune, level.edits[:number])
        then = apply_edits(upto, [edit])
        struck = sorted({f.rule for f in one.found[level.name] if f.edit == number})
        where = f"{one.case.name} [{one.case.idiom}, {one.case.half}] {level.name}"
        music = f"{level.pulse_tempo:g} in {level.done.tune.meter} {level.done.tune.key}"
        told = f"   REFEREE: {', '.join(struck)}" if struck else ""
        yield f"{place}. {where} {music}; {edit}{told}"
        bars = [k for k, bar in enumerate(upto.bars) if bar.number == edit.bar][:1]
        for index in bars:
            around = range(max(0, index - 1), min(len(upto.bars), index + 2))
            yield "   before: " + " | ".join(shown(upto, k) for k in around)
            yield "   after:  " + " | ".join(shown(then, k) for k in around)


def shown(tune: Tune, index: int) -> str:
    """Write a bar as text: chords in quotes, notes with their length in quarters."""
    bar: Bar = tune.bars[index]
    words = []
    for note in bar.notes:
        words += [f'"{c.symbol}"' for c in bar.chords if c.onset == note.onset]
        graces = "".join("{" + str(grace.pitch) + "}" for grace in note.graces)
        marks = "".join(f"!{mark}!" for mark in note.marks)
        name = "z" if note.pitch is None else str(note.pitch)
        words.append(f"{graces}{marks}{name}:{_length(note.duration)}{'~' * note.tied}")
    return " ".join(words)


def _length(value: Fraction) -> str:
    return str(value) if value.denominator > 1 else str(value.numerator)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--every", type=int, default=1, help="take every so manyth tune")
    parser.add_argument("--half", choices=HALVES, help="look at one half only")
    parser.add_argument("--only", default="", help="names that contain this only")
    parser.add_argument("--sample", nargs=2, metavar=("COUNT", "FILE"))
    given = parser.parse_args()
    chosen = [case for case in cases() if given.only in case.name][:: given.every]
    if given.half:
        chosen = [case for case in chosen if case.half == given.half]
    scores = {half: Score() for half in HALVES}
    judged = []
    for case in chosen:
        one = judge(case)
        judged.append(one)
        scores[case.half].add(one)
    for half, score in scores.items():
        if score.tunes:
            score.tell(half)
    if given.sample:
        text = "\n".join(sample(judged, int(given.sample[0]))) + "\n"
        Path(given.sample[1]).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
