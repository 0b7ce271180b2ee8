"""How often are the changes proposed for a bare tune those of an accompanist?

    python tests/benchmarks/chords_for_tunes.py              tunes; the analysed chorales
    python tests/benchmarks/chords_for_tunes.py --settings   also all chorales as set

* *Tunes*: thirty traditional tunes marked with changes before there was any code
  (tests/reference/accompaniment): by the hash of their titles fifteen for tuning and
  fifteen for judging. Their chords are taken away, proposed anew, and compared at each
  downbeat: the same function (functions.toml there), and the same chord (root, and major
  or minor).
* *Chorales*: the twenty that music21 carries with analyses in Roman numerals, the soprano
  alone as input; and, with ``--settings``, every chorale of four parts against the root
  that music21 finds in Bach's own setting at the downbeat. Different settings of one
  melody agree with each other by 76 %: nobody can be asked for more. The weights were set
  on the tunes for tuning and on 45 of these chorales; some melodies come more than once.

Compared with: the tonic throughout, and the best chord of each slot by itself.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import statistics
import sys
import time
import tomllib
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from kit.accompany._chords import candidates
from kit.accompany._grammar import melody_fit
from kit.accompany._slots import slots_of
from kit.accompany.proposal import propose_changes
from kit.errors import KitError
from kit.tune.abc.read import read_abc
from kit.tune.chord import ChordSymbol
from kit.tune.model import Tune
from kit.tune.read import read_tune

REFERENCE = Path(__file__).parents[1] / "reference" / "accompaniment"

MATCHING = 0.85
SETTING_PARTS = 4

Heard = tuple[int, bool]
"""A chord as it is compared: semitones of the root over the tonic, and whether minor."""


@dataclass(frozen=True)
class Marked:
    """A melody without chords, and what is marked at its downbeats, by bar index."""

    name: str
    tune: Tune
    downbeats: dict[int, Heard]


@dataclass
class Score:
    """Counts of downbeats."""

    total: int = 0
    function: int = 0
    chord: int = 0

    def __str__(self) -> str:
        """Print in per cent."""
        whole = max(self.total, 1)
        return (
            f"{self.total:5} downbeats, function {100 * self.function / whole:5.1f} %, "
            f"chord {100 * self.chord / whole:5.1f} %"
        )


def functions() -> dict[bool, dict[int, str]]:
    """Give the function of each root, for major and (True) minor modes."""
    table = tomllib.loads((REFERENCE / "functions.toml").read_text("utf-8"))
    return {
        mode == "minor": {root: name for name, roots in rows.items() for root in roots}
        for mode, rows in table.items()
    }


def heard(symbol: ChordSymbol, tonic: int) -> Heard:
    third = (symbol.root.pitch_class + 3) % 12
    return (symbol.root.pitch_class - tonic) % 12, third in symbol.pitch_classes


def bare(tune: Tune) -> Tune:
    return replace(tune, bars=tuple(replace(bar, chords=()) for bar in tune.bars))


def marked_tunes() -> tuple[list[Marked], list[Marked]]:
    """Give the tunes for tuning and those for judging."""
    text = (REFERENCE / "tunes.abc").read_text("utf-8")
    found = []
    for block in re.split(r"(?m)^(?=X:)", text)[1:]:
        tune = read_abc(block, source="tunes.abc")
        downbeats = {}
        for index, events in enumerate(tune.all_chords_in_force()):
            bar = tune.bars[index]
            if not bar.pickup and events:
                downbeats[index] = heard(events[0].symbol, bar.key.tonic.pitch_class)
        found.append(Marked(tune.title, bare(tune), downbeats))
    found.sort(key=lambda one: hashlib.sha256(one.name.encode()).hexdigest())
    return found[:15], found[15:]


def chorale_folder() -> Path:
    import music21

    return Path(music21.__file__).parent / "corpus" / "bach"


def analysed_chorales() -> list[Marked]:
    """Give the chorales with analyses, those whose bars are numbered alike.

    They are: where the soprano's downbeats are notes of the chords.
    """
    from music21 import converter

    found = []
    for path in sorted((chorale_folder() / "choraleAnalyses").glob("*.rntxt")):
        number = re.search(r"(?m)^BWV: *(\S+)", path.read_text("utf-8"))
        score = chorale_folder() / f"bwv{number[1]}.mxl"
        if not score.is_file():
            continue
        tune = read_tune(score)
        analysis = converter.parse(path, format="romanText")
        numerals = sorted(
            (one.measureNumber, one.beat, one.root().pitchClass, one.isMinorTriad(), one)
            for one in analysis.recurse().getElementsByClass("RomanNumeral")
        )
        tonic = tune.key.tonic.pitch_class
        downbeats, fitting = {}, 0
        for index, bar in enumerate(tune.bars):
            there = [one for one in numerals if one[:2] <= (bar.number, 1)]
            if bar.pickup or not there:
                continue
            *_, root, minor, numeral = there[-1]
            downbeats[index] = (root - tonic) % 12, minor
            first = bar.notes[0].pitch
            fitting += bool(first and first.midi % 12 in numeral.pitchClasses)
        if fitting >= MATCHING * len(downbeats):
            found.append(Marked(path.stem, bare(tune), downbeats))
    return found


def set_chorales() -> tuple[list[Marked], list[Marked]]:
    """Give the chorales in four parts, marked with the roots of their settings.

    First those that were looked at while the numbers were set: every second of those that
    every fourth file yields. Then all others.
    """
    from music21 import chord, converter

    found, fourth = [], []
    for place, path in enumerate(sorted(chorale_folder().glob("bwv*.mxl"))):
        score = converter.parse(path)
        if len(score.parts) != SETTING_PARTS:
            continue
        try:
            tune = read_tune(path)
        except KitError:
            continue
        measures = [list(part.getElementsByClass("Measure")) for part in score.parts]
        if {len(row) for row in measures} != {len(tune.bars)}:
            continue
        tonic = tune.key.tonic.pitch_class
        downbeats = {}
        for index, bar in enumerate(tune.bars):
            sounding = [
                pitch
                for row in measures
                for note in row[index].recurse().notes
                if note.getOffsetInHierarchy(row[index]) == 0
                for pitch in note.pitches
            ]
            if bar.pickup or len(sounding) < SETTING_PARTS - 1:
                continue
            setting = chord.Chord(sounding)
            if setting.isTriad() or setting.isSeventh():
                minor = setting.semitonesFromChordStep(3) == 3
                downbeats[index] = (setting.root().pitchClass - tonic) % 12, minor
        found.append(Marked(path.stem, bare(tune), downbeats))
        if place % 4 == 0:
            fourth.append(found[-1])
    seen = fourth[::2]
    return seen, [one for one in found if one not in seen]


def proposed(tune: Tune) -> dict[int, Heard]:
    """Give what is proposed at each downbeat."""
    return {
        slot.bar: heard(slot.chosen.symbol, tune.bars[slot.bar].key.tonic.pitch_class)
        for slot in propose_changes(tune).slots
        if slot.onset == 0
    }


def tonic_throughout(tune: Tune) -> dict[int, Heard]:
    minor = tune.key.is_minor
    return dict.fromkeys(range(len(tune.bars)), (0, minor))


def each_by_itself(tune: Tune) -> dict[int, Heard]:
    found = {}
    for slot in slots_of(tune):
        if slot.onset == 0:
            chord = max(candidates(slot.key.mode), key=partial(melody_fit, slot))
            found[slot.bar] = chord.root, chord.kind != "major"
    return found


def score(
    tunes: list[Marked], method: Callable[[Tune], dict[int, Heard]], *, say: bool = False
) -> Score:
    table = functions()
    whole = Score()
    for one in tunes:
        found = method(one.tune)
        names = table[one.tune.key.is_minor]
        own = Score()
        for index, wanted in one.downbeats.items():
            if index in found:
                own.total += 1
                own.function += names[found[index][0]] == names[wanted[0]]
                own.chord += found[index] == wanted
        if say:
            print(f"    {own}  {one.name}")
        whole.total += own.total
        whole.function += own.function
        whole.chord += own.chord
    return whole


def times(tunes: list[Marked]) -> list[float]:
    """Give how long each tune takes, in milliseconds."""
    found = []
    for one in tunes:
        start = time.perf_counter()
        proposed(one.tune)
        found.append(1000 * (time.perf_counter() - start))
    return found


def report(title: str, tunes: list[Marked], *, say: bool) -> None:
    print(f"{title}: {len(tunes)}")
    print(f"  the tonic throughout  {score(tunes, tonic_throughout)}")
    print(f"  each slot by itself   {score(tunes, each_by_itself)}")
    print(f"  proposed              {score(tunes, proposed)}")
    if say:
        score(tunes, proposed, say=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--each", action="store_true", help="tune by tune")
    parser.add_argument("--settings", action="store_true", help="also all chorales as set")
    asked = parser.parse_args()
    warnings.simplefilter("ignore")
    tuning, judging = marked_tunes()
    report("Tunes for tuning", tuning, say=asked.each)
    report("Tunes for judging", judging, say=asked.each)
    report("Chorales with analyses", analysed_chorales(), say=asked.each)
    if asked.settings:
        seen, unseen = set_chorales()
        report("Chorales as set, seen in tuning", seen, say=asked.each)
        report("Chorales as set, the others", unseen, say=asked.each)
    spent = times(tuning + judging)
    print(f"  a tune takes {statistics.median(spent):.1f} ms, at most {max(spent):.1f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
