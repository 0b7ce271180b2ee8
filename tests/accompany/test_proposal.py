"""Changes are proposed for any melody by rules of harmony; the rejected are at hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from tunes_at_random import tunes

from kit.accompany.proposal import propose_changes
from kit.tune.abc.read import read_abc
from kit.tune.model import Tune, transposed
from kit.tune.pitch import Interval, Key


def tune_of(music: str, *, meter: str = "4/4", key: str = "C", unit: str = "1/4") -> Tune:
    return read_abc(f"X:1\nT:T\nM:{meter}\nL:{unit}\nK:{key}\n{music}\n", source="t.abc")


def chords_of(tune: Tune) -> list[str]:
    return [str(slot.chosen.symbol) for slot in propose_changes(tune).slots]


def is_home(tune: Tune) -> bool:
    """Say whether the last chord is the tonic of the mode in force there."""
    last = propose_changes(tune).slots[-1]
    key = tune.bars[last.bar].key
    kind = "minor" if key.is_minor else "major"
    return (last.chosen.symbol.root, last.chosen.symbol.kind) == (key.tonic, kind)


@given(tunes())
@settings(max_examples=40)
def test_every_full_bar_of_any_tune_has_a_chord_and_the_last_is_home(tune):
    proposal = propose_changes(tune)
    full = [index for index, bar in enumerate(tune.bars) if not bar.pickup]
    filled = {index: Fraction(0) for index in full or range(len(tune.bars))}
    for slot in proposal.slots:
        assert slot.onset == filled[slot.bar]
        filled[slot.bar] += slot.duration
        assert slot.chosen.symbol.root is not None
    assert all(filled[index] == tune.bars[index].length for index in filled)
    assert is_home(tune)


@given(tunes(), st.sampled_from(["m2", "M2", "m3", "P4", "A4", "P5", "M6", "m7", "-M2"]))
@settings(max_examples=40)
def test_transposing_first_or_last_makes_no_difference(tune, name):
    interval = Interval.parse(name)
    moved = transposed(tune, interval)
    # Beyond triple signs names have no more signs to be told apart by.
    assume(all(abs(bar.key.fifths) <= 14 for bar in moved.bars))
    there = propose_changes(moved)
    here = propose_changes(tune)
    for ours, theirs in zip(here.slots, there.slots, strict=True):
        assert ours.chosen.symbol + interval == theirs.chosen.symbol
        assert [c.symbol + interval for c in ours.rejected] == [
            c.symbol for c in theirs.rejected
        ]


@given(tunes())
@settings(max_examples=30)
def test_rejected_chords_stand_in_order_of_cost_each_with_a_reason(tune):
    for slot in propose_changes(tune).slots:
        costs = [chord.cost for chord in slot.rejected]
        assert costs == sorted(costs)
        assert all(cost >= 0 for cost in costs)
        assert slot.rejected
        numerals = [chord.numeral for chord in (slot.chosen, *slot.rejected)]
        assert len(set(numerals)) == len(numerals)
        assert all(chord.reason for chord in (slot.chosen, *slot.rejected))


@given(tunes())
@settings(max_examples=30)
def test_written_changes_are_those_of_the_slots_and_nothing_else_changes(tune):
    proposal = propose_changes(tune)
    written = proposal.with_changes()
    in_force = written.all_chords_in_force()
    for slot in proposal.slots:
        there = [e.symbol for e in in_force[slot.bar] if e.onset <= slot.onset]
        assert there[-1] == slot.chosen.symbol
    bare = [replace(bar, chords=()) for bar in tune.bars]
    assert [replace(bar, chords=()) for bar in written.bars] == bare
    assert propose_changes(written).slots == proposal.slots


@pytest.mark.parametrize(
    ("music", "meter"),
    [
        ("c4|", "4/4"),
        ("c^cd^d|e f ^f g|^g a ^a b|c'4|", "4/4"),
        ("c d e f g a b|c'7|", "7/4"),
        ("c2 de fgab/|", "15/8"),
        ("G|c2 d2|e2 c|", "4/4"),
        ("G/|", "4/4"),
        ("c d e|f g a|b a g|c'3|", "3/4"),
        ("c2 d2 e|g2 e2 c|", "5/4"),
    ],
    ids=["single", "chromatic", "seven", "odd", "pick-up", "bit", "three", "five"],
)
def test_any_shape_of_tune_gets_chords(music, meter):
    assert is_home(tune_of(music, meter=meter))


def test_a_tune_of_rests_stays_at_home():
    tune = tune_of("c4|c4|c4|c4|")
    silent = [
        replace(bar, notes=tuple(replace(n, pitch=None) for n in bar.notes))
        for bar in tune.bars
    ]
    assert chords_of(replace(tune, bars=tuple(silent)))[-1] == "C"


@pytest.mark.parametrize(
    ("meter", "music", "onsets"),
    [
        ("4/4", "c e d B|", {0, 2}),
        ("6/8", "ce g d B G|", {0, Fraction(3, 2)}),
        ("3/4", "c e d|", {0}),
        ("2/4", "c B|", {0}),
        ("9/8", "c2 e d2 B c3|", {0}),
        ("12/8", "c3 e3 d3 B3|", {0, 3}),
        ("7/8", "c2 e2 d2 B|", {0}),
    ],
)
def test_the_harmony_changes_at_most_as_often_as_the_meter_lets_it(meter, music, onsets):
    unit = "1/8" if meter.endswith("8") else "1/4"
    tune = tune_of(music * 8, meter=meter, unit=unit)
    assert {slot.onset for slot in propose_changes(tune).slots} <= onsets


def test_a_pick_up_has_no_chord_of_its_own():
    tune = tune_of("G2|c2 e2|d2 B2|c2|")
    assert tune.bars[0].pickup
    assert not propose_changes(tune).with_changes().bars[0].chords


def test_arpeggios_are_their_chords_and_the_dominant_leads_home_with_its_seventh():
    assert chords_of(tune_of("cegc'|fac'a|gbd'b|c'4|")) == ["C", "F", "G7", "C"]


def test_a_first_half_may_wait_on_the_dominant():
    tune = tune_of("cegc'|fac'a|c'geg|d'4|cegc'|fac'a|gbd'b|c'4|")
    slots = propose_changes(tune).slots
    half = next(slot for slot in slots if slot.number == 4)
    assert str(half.chosen.symbol) in {"G", "G7"}
    assert half.chosen.reason == "the phrase waits on the dominant"


def test_modal_tunes_move_between_home_and_the_chord_below_it():
    dorian = tune_of("d3f|a2 fd|c3e|g2 ec|d3f|a2 fd|ecge|d4|", key="Ddor")
    assert set(chords_of(dorian)) == {"Dm", "C"}
    mixolydian = tune_of("d3^f|a2^fd|c3e|g2ec|d3^f|a2^fd|ecge|d4|", key="Dmix")
    assert set(chords_of(mixolydian)) == {"D", "C"}


def test_minor_has_the_raised_leading_note_where_the_melody_has_it():
    tune = tune_of("A2c2|e2c2|^G2B2|A4|", key="Am")
    assert chords_of(tune) == ["Am", "Am", "E7", "Am"]


def test_an_applied_dominant_needs_its_raised_note_and_goes_where_it_leads():
    raised = tune_of("cegc'|d^fad|gbd'g|c'4|")
    assert chords_of(raised) == ["C", "D7", "G7", "C"]
    plain = tune_of("cegc'|dfad|gbd'g|c'4|")
    assert "D7" not in chords_of(plain)


def test_a_fermata_ends_a_phrase():
    tune = tune_of("cdec|fedHd|edcB|c4|", key="C")
    slots = propose_changes(tune).slots
    held = next(s for s in slots if s.number == 2 and s.onset + s.duration == 4)
    assert held.chosen.function == "dominant"


def test_a_tune_ends_at_home_and_the_other_chords_are_still_at_hand():
    last = propose_changes(tune_of("cegc'|gbd'g|")).slots[-1]
    assert str(last.chosen.symbol) == "C"
    assert str(last.rejected[0].symbol) == "G"
    assert last.rejected[0].reason == "the tune would not end at home"


def test_a_new_key_has_its_own_chords():
    tune = tune_of("cegc'|c'4||[K:F]fac'a|f4|")
    assert tune.bars[-1].key == Key(-1)
    assert chords_of(tune)[-2:] == ["F", "F"]


def test_what_speaks_against_a_chord_is_told_in_the_tunes_own_notes():
    tune = tune_of("A^cea|B^df^d|e^gbe|a4|", key="A")
    slots = propose_changes(tune).slots
    against = {chord.numeral: chord.reason for chord in slots[0].rejected}
    assert against["IV"] in {
        "the melody's C♯ is not in it",
        "the melody's E is not in it",
    }


def test_a_chord_that_goes_on_is_written_again_where_a_phrase_or_strain_begins():
    tune = tune_of("cegc'|" * 6 + "|:G|" + "cegc'|" * 5 + "c'3:|")
    written = propose_changes(tune).with_changes()
    marked = [bar.number for bar in written.bars if bar.chords]
    assert marked == [1, 5, 7, 11]
