"""How often is the form found, and how near are the section borders?

Three kinds of music whose form is known from elsewhere; marks and printed numbers are taken
away before the analysis:

* *parts*: dance tunes of music21's corpus with ``P:`` marks in their source, whose sections
  are all of 8, 16 or 32 bars (and, for the record, those of any length);
* *repeats*: tunes of the corpus with two repeated eight-bar strains, AABB played out
  (common practice);
* *songs*: generated forms of 8-bar sections (AABA, ABAC, AAB and others), with varied
  endings and transposed bridges.

Then forms that are regular and odd, by kind: *motifs*, on which the weights were set, and
*patchwork*, made of folk songs by other rules, which only judges (form_motifs.py and
form_patchwork.py say how).

Exact means: the same letters and every border in its bar. Precision and recall of borders
within one bar are ``mir_eval.segment.detection`` (Raffel and others, "mir_eval", ISMIR
2014), the ends of the tune left out. Every second piece is held out: only misses in the
other half were studied while the weights were set. (Of the *parts*, an overview of most
tunes had been seen before, and scores of both halves were in view, so their half is
a weaker witness.) The baseline cuts every eight bars and calls each piece new.

    python tests/benchmarks/form_finding.py [--every N] [--each N]
"""

from __future__ import annotations

import argparse
import re
import runpy
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parent))

import mir_eval
import numpy as np
from form_motifs import KINDS, KnownForm, is_exact, motif_tune
from form_patchwork import patchwork_tune
from music21 import corpus

from kit.errors import KitError
from kit.form._search import found_form
from kit.form.find import find_form
from kit.form.sections import Form, Section
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.unfold import unfolded

HERE = Path(__file__).parent
FOLDERS = ("airdsAirs", "ryansMammoth", "oneills1850", "miscFolk", "nottingham-dataset")
COMMON = {8, 16, 32}


@dataclass(frozen=True)
class Piece:
    """Music without marks, and its letters with the full bars at which sections start."""

    music: Tune
    letters: str
    starts: tuple[int, ...]
    bars: int


def bare(played: Tune) -> Tune:
    bars = enumerate(played.bars)
    return replace(
        played, bars=tuple(replace(bar, number=k, section="") for k, bar in bars)
    )


def piece(played: Tune, form: Form) -> Piece:
    full = [k for k, bar in enumerate(played.bars) if not bar.pickup]
    starts = tuple(full.index(section.first) for section in form.sections)
    return Piece(bare(played), letters(form), starts, len(full))


def letters(form: Form) -> str:
    """Name the labels by letters in order of appearance, whatever the source calls them."""
    order = {label: chr(65 + k) for k, label in enumerate(form.labels)}
    return "".join(order[section.label] for section in form.sections)


def sources(folders: tuple[str, ...]) -> Iterator[str]:
    root = Path(corpus.__file__).parent
    for folder in folders:
        for path in sorted((root / folder).rglob("*.abc")):
            text = path.read_text(encoding="utf-8", errors="replace")
            yield from re.split(r"\n(?=X:)", text)


def with_parts(lengths: set[int] | None) -> Iterator[Piece]:
    for text in sources(FOLDERS):
        if "\nP:" not in text:
            continue
        try:
            played = unfolded(read_abc(text, source="corpus"))
        except KitError:
            continue
        form = find_form(played)
        if form.source == "marks" and (
            lengths is None or {section.bar_count for section in form.sections} <= lengths
        ):
            yield piece(played, form)


def with_repeats(every: int) -> Iterator[Piece]:
    strains = runpy.run_path(str(HERE.parent / "reference/test_form_corpus.py"))["strains"]
    for played in strains(every):
        full = [k for k, bar in enumerate(played.bars) if not bar.pickup]
        sections = tuple(
            Section(label, full[8 * k], full[8 * k + 7]) for k, label in enumerate("AABB")
        )
        yield piece(played, Form(sections))


def songs(count: int) -> Iterator[Piece]:
    song = runpy.run_path(str(HERE.parent / "reference/test_form_finding.py"))["_song"]
    seeds = (seed for pair in range(count // 2) for seed in (pair, 10_000 + pair))
    for seed in seeds:
        tune, pattern, length = song(seed)
        starts = tuple(range(0, len(tune.bars), length))
        yield Piece(tune, pattern, starts, len(tune.bars))


def eights(music: Tune) -> Form:
    full = [k for k, bar in enumerate(music.bars) if not bar.pickup]
    return Form(
        tuple(
            Section(chr(65 + k % 26), full[start], full[min(start + 8, len(full)) - 1])
            for k, start in enumerate(range(0, len(full), 8))
        )
    )


def intervals(starts: tuple[int, ...], bars: int) -> np.ndarray:
    edges = [*starts, bars]
    return np.array(list(pairwise(edges)), dtype=float)


@dataclass(frozen=True)
class Score:
    """Shares from 0 to 1; `count` pieces."""

    count: int
    exact: float
    precision: float
    recall: float

    def __str__(self) -> str:
        return (
            f"{self.count:5d} pieces   exact {self.exact:6.1%}   "
            f"precision {self.precision:6.1%}   recall {self.recall:6.1%}"
        )


def measured(pieces: list[Piece], form_of: Callable[[Tune], Form]) -> Score:
    exact, precision, recall = 0, [], []
    for item in pieces:
        found = piece(item.music, form_of(item.music))
        exact += (found.letters, found.starts) == (item.letters, item.starts)
        if len(item.starts) == len(found.starts) == 1:
            continue
        p, r, _ = mir_eval.segment.detection(
            intervals(item.starts, item.bars),
            intervals(found.starts, item.bars),
            window=1.0,
            trim=len(item.starts) > 1 and len(found.starts) > 1,
        )
        precision.append(p)
        recall.append(r)
    return Score(len(pieces), exact / len(pieces), mean(precision), mean(recall))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--every", type=int, default=1, help="take every Nth repeat tune")
    options.add_argument("--each", type=int, default=40, help="made tunes of each kind")
    chosen = options.parse_args()
    every = chosen.every
    collections = {
        "parts, 8/16/32 bars": list(with_parts(COMMON)),
        "parts, any length": list(with_parts(None)),
        "repeats, AABB": list(with_repeats(every)),
        "songs, generated": list(songs(600)),
    }
    for name, pieces in collections.items():
        print(name)
        for words, half in (("looked at", pieces[::2]), ("held out", pieces[1::2])):
            print(f"  {words:<10} {measured(half, found_form)}")
        print(f"  {'baseline':<10} {measured(pieces, eights)}")
    by_kind("motifs, of other seeds than those tuned on", motif_tune, 500, chosen.each)
    by_kind("patchwork, judging", patchwork_tune, 0, chosen.each)


def by_kind(
    name: str, make: Callable[[str, int], KnownForm], first: int, count: int
) -> None:
    """Print how many made tunes of each kind are found exactly, and how long one takes."""
    print(name)
    seconds = []
    for kind in KINDS:
        exact = 0
        for seed in range(first, first + count):
            known = make(kind, seed)
            start = time.process_time()
            form = found_form(known.tune)
            seconds.append(time.process_time() - start)
            exact += is_exact(known, form)
        print(f"  {kind:<12} {exact:4d} of {count}   {exact / count:6.1%}")
    print(f"  {mean(seconds):.3f} s a tune, at most {max(seconds):.3f} s")


if __name__ == "__main__":
    main()
