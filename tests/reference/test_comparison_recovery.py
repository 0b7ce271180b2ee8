"""Edits and comparison are each other's inverse; notes find their partners.

Random lists of edits that apply are put on a tune, and the comparison of the two melodies,
without a look at the edits, has to name each of them. Variations are generated with their
true partners known. Goal: 95 %. Counted on more lists:
``python tests/reference/test_comparison_recovery.py``.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from kit.errors import LevelError
from kit.levels._align import aligned
from kit.levels.compare import compare
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit
from kit.levels.rewrite import bar_starts, sounds_of
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import write_musicxml
from kit.tune.pitch import Interval

GIVEN = {
    "chord": (("to", "A7"),),
    "chord quality": (("to", "7b9"),),
    "pitch": (("to", "F4"),),
    "note": (("to", "F5"),),
}
SAME = (
    {"turnaround", "side-step", "chord", "chord quality", "secondary dominant",
     "passing diminished", "ii before V"},
    {"octave up", "octave down", "register"},
    # A note between two others is in passing; one that leads by a half step may be both.
    {"approach", "passing note"},
)  # fmt: skip
"""Words for what is the same on the page."""


def aaba() -> Tune:
    path = Path(__file__).parents[1] / "form/aaba.abc"
    return read_abc(path.read_text(encoding="utf-8"), source="aaba.abc")


def edited(tune: Tune, rng: Random) -> tuple[list[Edit], Tune]:
    """Two to six random edits that apply, no two in the same bar."""
    edits: list[Edit] = []
    level, used, starts = tune, set(), bar_starts(tune)
    wanted = rng.randrange(2, 7)
    for _ in range(200):
        if len(edits) == wanted:
            break
        name = rng.choice(sorted(OPERATIONS))
        if OPERATIONS[name].needs_note:
            sound = rng.choice(sounds_of(tune))
            bar = int(sound.start // 4)
            beat = sound.start - starts[bar] + 1
        else:
            bar, beat = rng.randrange(32), Fraction(rng.choice([1, 2, 3]))
        if bar in used:
            continue
        edit = Edit(bar + 1, beat, name, GIVEN.get(name, ()))
        try:
            after = apply_edit(level, edit)
        except LevelError:
            continue
        if after != level:
            level = after
            edits.append(edit)
            used.add(bar)
    return edits, level


def recovered(edit: Edit, lower: Tune, upper: Tune) -> bool:
    kinds = {d.kind for d in compare(lower, upper) if abs(d.bar_number - edit.bar) <= 1}
    words = {edit.do}.union(*(same for same in SAME if edit.do in same))
    return bool(kinds & words)


def share(seeds: range) -> tuple[int, int]:
    tune = aaba()
    found = total = 0
    for seed in seeds:
        edits, level = edited(tune, Random(seed))
        found += sum(recovered(edit, tune, level) for edit in edits)
        total += len(edits)
    return found, total


def test_nineteen_of_twenty_edits_in_random_lists_are_recovered():
    found, total = share(range(45))
    assert total > 150
    assert found >= 0.95 * total, f"{found} of {total}"


def test_two_plain_notation_files_are_compared_as_well():
    tune = aaba()
    found = total = 0
    for seed in range(12):
        edits, level = edited(tune, Random(5000 + seed))
        lower, upper = (
            read_musicxml(write_musicxml(music), source="level.musicxml")
            for music in (tune, level)
        )
        found += sum(recovered(edit, lower, upper) for edit in edits)
        total += len(edits)
    assert found >= 0.95 * total, f"{found} of {total}"


def varied(tune: Tune, rng: Random) -> tuple[list, list[tuple[int | None, int | None]]]:
    """Change a third of the sounds; give the new ones with their true partners."""
    sounds, truth = [], []
    old = sounds_of(tune)
    eighth = Fraction(1, 2)
    for i, sound in enumerate(old):
        change = rng.choice(["keep"] * 6 + ["early", "pitch", "leave out", "split"])
        if change == "leave out":
            truth.append((i, None))
            continue
        truth.append((i, len(sounds)))
        earlier = sound.start - eighth
        new = sound
        if change == "early" and sounds and sounds[-1].start < earlier:
            last = sounds[-1]
            cut = min(last.duration, earlier - last.start)
            sounds[-1] = replace(last, duration=cut)
            new = replace(sound, start=earlier, duration=sound.duration + eighth)
        elif change == "pitch":
            step = Interval.parse(rng.choice(["M2", "m2", "m3"]))
            new = replace(sound, pitch=sound.pitch + step)
        elif change == "split" and sound.duration >= 1:
            half = sound.duration / 2
            sounds.append(replace(sound, duration=half))
            truth.append((None, len(sounds)))
            other = sound.pitch + Interval.parse("M3")
            new = replace(sound, start=sound.start + half, duration=half, pitch=other)
        sounds.append(new)
    return sounds, truth


@pytest.mark.parametrize("seed", range(5))
def test_notes_of_a_variation_find_their_true_partners(seed):
    tune = aaba()
    right = total = 0
    for turn in range(8):
        sounds, truth = varied(tune, Random(f"{seed} {turn}"))
        found = set(aligned(sounds_of(tune), sounds))
        right += sum(pair in found for pair in truth)
        total += len(truth)
    assert right >= 0.95 * total, f"{right} of {total}"


if __name__ == "__main__":
    hits, every = share(range(300))
    print(f"{hits} of {every} random edits recovered: {hits / every:.1%}")
