"""An edit sees in its window all that it would see in the whole tune."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest

from kit.errors import LevelError
from kit.levels._music import Music
from kit.levels._tally import Breaths, Gauge, longest_breath, tally
from kit.levels._window import Ground, cut_out, tie_free
from kit.levels.difficulty import difficulty, overall_difficulty
from kit.levels.edit import Edit, Site, place_of
from kit.levels.edits import OPERATIONS, Editing, apply_edit
from kit.levels.values import VALUES
from kit.tune.abc.read import read_abc
from kit.tune.model import Note

_MAKER = Path(__file__).parents[1] / "benchmarks/long_tune_maker.py"
_TEXTS = {"chord": ("Dm7", "G7", "N.C."), "chord quality": ("m7", "7", "dim7"),
          "pitch": ("Bb4", "C6"), "note": ("A4", "F#5")}  # fmt: skip


def _maker():
    spec = importlib.util.spec_from_file_location("long_tune_maker", _MAKER)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MAKER = _maker()


def thinned(tune, rng):
    """Take chords and notes out, and tie notes: what an edit asks for is then far off."""
    return replace(tune, bars=tuple(_thinned_bar(bar, rng) for bar in tune.bars))


def _thinned_bar(bar, rng):
    notes = bar.notes
    if rng.random() < 0.3:
        notes = (Note(Fraction(0), bar.length, None),)
    elif rng.random() < 0.3 and notes[-1].pitch:
        notes = (*notes[:-1], replace(notes[-1], tied=True))
    return replace(bar, notes=notes, chords=() if rng.random() < 0.6 else bar.chords)


def tunes(kind, rng):
    tune = read_abc(MAKER.long_tune(kind, 24, seed=rng.randrange(99)), source="long.abc")
    return tune, thinned(tune, rng)


def edit_at_random(tune, rng):
    bar = rng.choice(tune.bars)
    onset = rng.choice([*bar.notes, *bar.chords]).onset
    lead_in = bar.meter.bar_length - bar.length if bar.pickup else 0
    beat = (onset + lead_in) / Fraction(4, bar.meter.beat_type) + 1
    do = rng.choice(list(OPERATIONS))
    options = []
    for name, option in OPERATIONS[do].options.items():
        if option.default is not None and rng.random() < 0.4:
            continue
        options.append((name, value_at_random(do, option, rng)))
    return Edit(bar.number, beat, do, tuple(options))


def value_at_random(do, option, rng):
    if option.kind == "value":
        return rng.choice(list(VALUES))
    if option.kind == "choice":
        return rng.choice(option.choices)
    if option.kind == "count":
        return rng.randint(option.bounds[0], min(9, option.bounds[1]))
    return rng.choice(_TEXTS[do])


def on_the_whole(tune, edit):
    """Apply an edit with all of the tune in view; None if it is refused."""
    operation = OPERATIONS[edit.do]
    try:
        place = place_of(tune, Ground(tune), edit)
        return operation.apply(Site(Music.of(tune), edit, operation.options, *place))
    except LevelError:
        return None


@pytest.mark.parametrize("kind", MAKER.KINDS)
def test_an_edit_does_in_a_window_what_it_does_in_the_whole_tune(kind):
    rng = Random(f"windows {kind}")
    done = set()
    for tune in tunes(kind, rng):
        for _ in range(250):
            edit = edit_at_random(tune, rng)
            after = Editing(tune).try_out(edit)
            expected = on_the_whole(tune, edit)
            assert (after and after.tune) == expected, str(edit)
            if expected is not None:
                done.add(edit.do)
                tune = expected if rng.random() < 0.7 else tune  # noqa: PLW2901
    assert len(done) > len(OPERATIONS) / 2


def test_a_refusal_speaks_of_the_whole_tune(build):
    tune = build("c d e f|" * 30 + "g a b c'|]")
    with pytest.raises(LevelError, match="only 2 notes from here on"):
        apply_edit(tune, Edit(31, Fraction(3), "displace", (("notes", 9),)))
    with pytest.raises(LevelError, match="the last bar is 31"):
        apply_edit(tune, Edit(32, Fraction(1), "accent"))


@pytest.mark.parametrize("kind", MAKER.KINDS)
def test_a_gauge_changed_bit_by_bit_measures_what_is_there(kind):
    rng = Random(f"gauge {kind}")
    tune, _ = tunes(kind, rng)
    editing, gauge = Editing(tune), Gauge(Music.of(tune))
    changes = 0
    while changes < 40:
        after = editing.try_out(edit_at_random(editing.tune, rng))
        if after is None or after.first > after.last:
            continue
        changes += 1
        # Two bars on either side hold a sound that is not changed in these tunes.
        last = min(after.last + 2, len(tune.bars) - 1)
        first, last = tie_free(editing.tune.bars, max(0, after.first - 2), last)
        first, last = tie_free(after.tune.bars, first, last)
        before_part, after_part = (
            Music.of(cut_out(one.tune, first, last)) for one in (editing, after)
        )
        gauge = gauge.replaced(before_part, after_part, after.ground.starts[first])
        editing = after
        music = Music.of(editing.tune)
        assert gauge.tally == tally(music)
        assert gauge.breaths.longest == float(longest_breath(music.sounds))
        assert +gauge.heights == Gauge(music).heights
        assert overall_difficulty(gauge, 120) == difficulty(editing.tune, 120).overall


def test_a_note_in_a_rest_joins_the_stretches_on_both_sides(build):
    before, after = build("c d e f|z4|c d e f|]"), build("c d e f|g4|c d e f|]")
    breaths = Breaths(Music.of(before).sounds)
    assert breaths.longest == 4
    middle = Music.of(cut_out(after, 1, 1))
    assert breaths.replace(middle, Fraction(4)) == 12
    assert breaths.longest == 12
    silent = Music.of(cut_out(before, 1, 1))
    breaths.replace(silent, Fraction(4))
    assert breaths.longest == 4
