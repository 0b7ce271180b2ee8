"""The page's dynamics become levels: words, hairpins, struck notes.

Source: the order of the words from pp to ff and the meaning of fp and sfz are in any theory
primer (common practice).
"""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.band._dynamics import LEVELS_DB, read_dynamics
from kit.tune.model import Bar, Note, SpanEnd, Word
from kit.tune.pitch import Pitch

QUARTERS = tuple(Note(Fraction(n), Fraction(1), Pitch.parse("A4")) for n in range(4))


def page(*marks, bars=4):
    """Give bars of quarters; a mark is (bar, onset, dynamic or words)."""
    made = [Bar(number, QUARTERS) for number in range(1, bars + 1)]
    for bar, onset, text in marks:
        kind = "words" if text.endswith(".") else "dynamics"
        word = Word(Fraction(onset), text, kind)
        made[bar] = replace(made[bar], words=(*made[bar].words, word))
    return made


def hairpin(bars, kind, start, stop):
    for (bar, onset), opens in ((start, True), (stop, False)):
        end = SpanEnd(Fraction(onset), kind, opens)
        bars[bar] = replace(bars[bar], spans=(*bars[bar].spans, end))
    return bars


def test_a_page_without_dynamics_is_mezzo_forte():
    assert {read_dynamics(page()).level_db(Fraction(n)) for n in range(16)} == {0.0}


def test_the_steps_from_pp_to_ff_rise_and_span_twelve_decibels():
    order = ["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]
    levels = [LEVELS_DB[sign] for sign in order]
    assert levels == sorted(set(levels))
    assert LEVELS_DB["ff"] - LEVELS_DB["pp"] >= 12


def test_a_dynamic_holds_until_the_next_one():
    read = read_dynamics(page((1, 0, "p"), (2, 2, "ff")))
    at = [read.level_db(Fraction(n)) for n in (3, 4, 9, 10, 15)]
    assert at == [0.0, LEVELS_DB["p"], LEVELS_DB["p"], LEVELS_DB["ff"], LEVELS_DB["ff"]]


def test_a_hairpin_goes_to_the_dynamic_at_its_end():
    bars = hairpin(page((0, 0, "p"), (2, 0, "f")), "crescendo", (0, 0), (1, 4))
    read = read_dynamics(bars)
    middle = (LEVELS_DB["p"] + LEVELS_DB["f"]) / 2
    assert read.level_db(Fraction(4)) == pytest.approx(middle)
    assert read.level_db(Fraction(8)) == LEVELS_DB["f"]
    assert read.level_db(Fraction(15)) == LEVELS_DB["f"]


@pytest.mark.parametrize(("kind", "turn"), [("crescendo", 1), ("diminuendo", -1)])
def test_without_a_dynamic_at_its_end_a_hairpin_is_one_step(kind, turn):
    read = read_dynamics(hairpin(page(), kind, (0, 0), (0, 4)))
    assert read.level_db(Fraction(0)) == 0
    assert read.level_db(Fraction(4)) == turn * 3.0


def test_a_dynamic_of_the_other_way_is_not_where_a_hairpin_leads():
    bars = hairpin(page((0, 0, "f"), (1, 0, "p")), "crescendo", (0, 0), (0, 4))
    read = read_dynamics(bars)
    assert read.level_db(Fraction(7, 2)) > LEVELS_DB["f"]
    assert read.level_db(Fraction(4)) == LEVELS_DB["p"], "subito"


def test_crescendo_in_words_leads_to_the_next_dynamic():
    read = read_dynamics(page((0, 0, "p"), (0, 2, "cresc."), (3, 0, "f")))
    levels = [read.level_db(Fraction(n)) for n in range(2, 13)]
    assert levels == sorted(levels)
    assert (levels[0], levels[-1]) == (LEVELS_DB["p"], LEVELS_DB["f"])


def test_a_struck_note_leaves_the_level_and_fp_goes_on_soft():
    read = read_dynamics(page((0, 0, "f"), (1, 0, "sfz"), (2, 0, "fp")))
    assert read.struck == {Fraction(4), Fraction(8)}
    assert read.level_db(Fraction(5)) == LEVELS_DB["f"]
    assert read.level_db(Fraction(8)) == LEVELS_DB["p"]


MARKS = st.tuples(
    st.integers(0, 3), st.integers(0, 3), st.sampled_from([*LEVELS_DB, "sfz", "dim.", "fp"])
)


@given(st.lists(MARKS, max_size=6), st.integers(0, 15), st.integers(1, 8))
def test_a_curve_begins_and_ends_where_it_is_asked_and_stays_in_reach(marks, start, length):
    read = read_dynamics(page(*marks))
    curve = read.over(Fraction(start), Fraction(start + length))
    places = [at for at, _ in curve]
    assert (places[0], places[-1]) == (0, length)
    assert places == sorted(places)
    assert all(-30 < level < 15 for _, level in curve)
    assert curve[0][1] == read.level_db(Fraction(start))
