"""Cadences, turnarounds, pedal points and names of forms."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.form.find import find_form
from kit.form.harmony import cadences, changes, pedals, turnaround
from kit.form.names import form_name
from kit.tune.pitch import Key, NoteName


def spoken(tune, home=None):
    return [
        (c.numerals, str(c.goal), " ".join(map(str, c.chords)))
        for c in cadences(changes(tune), home)
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Dm7|G7|Cmaj7|C6", ("ii–V–I", "C major", "Dm7 G7 Cmaj7")),
        ("Dm7b5|G7|Cm6|Cm", ("ii–V–i", "C minor", "Dm7♭5 G7 Cm6")),
        ("Dm7|Db7|Cmaj7|C6", ("ii–V–I", "C major", "Dm7 D♭7 Cmaj7")),
        ("Em7|A7|F6|F6", ("ii–V", "D major", "Em7 A7")),
        ("F6|A7|Dm7|F6", ("V–i", "D minor", "A7 Dm7")),
    ],
)
def test_cadences_are_read_as_the_trade_reads_them(chart, text, expected):
    assert spoken(chart(text))[0] == expected


def test_a_goal_may_be_the_ii_of_the_next_cadence(chart):
    tune = chart("Em7 A7|Dm7 G7|C6|C6")
    assert [item[0] for item in spoken(tune)] == ["ii–V–i", "ii–V–I"]


def test_a_dominant_is_no_goal_unless_it_is_the_home_of_a_blues(chart):
    tune = chart("Gm7|C7|F7|F7", "F")
    assert [item[0] for item in spoken(tune)] == ["ii–V"]
    assert [item[0] for item in spoken(tune, Key.parse("F major"))] == ["ii–V–I"]


def test_chords_written_twice_count_once_and_last_on(chart):
    found = changes(chart("C6|C6|Dm7 G7|C6"))
    assert [(str(c.symbol), c.duration) for c in found] == [
        ("C6", 8), ("Dm7", 2), ("G7", 2), ("C6", 4),
    ]  # fmt: skip


def test_a_turnaround_ends_a_section_on_a_dominant(chart):
    tune = chart("C6|F6|C6 A7|Dm7 G7")
    found = turnaround(tune, 0, 3)
    assert found is not None
    assert [str(symbol) for symbol in found.chords] == ["C6", "A7", "Dm7", "G7"]
    assert turnaround(chart("C6|F6|G7|C6"), 0, 3) is None


def test_a_bass_under_moving_chords_is_a_pedal(chart):
    tune = chart("Dm7/G|G7|C/G|G7|C6|F6")
    found = pedals(changes(tune))
    assert [(p.note, p.first, p.last) for p in found] == [(NoteName("G"), 0, 3)]


def test_a_blues_is_called_one(chart):
    tune = chart("F7|Bb7|F7|F7|Bb7|Bb7|F7|D7|Gm7|C7|F7|C7", "F")
    assert form_name(tune, find_form(tune)) == "12-bar blues"


def test_twelve_bars_of_which_repeats_cut_some_in_two_are_no_blues(chart):
    tune = chart("C7 | " * 11 + "C7")
    form = find_form(tune)
    cut = replace(tune, bars=(replace(tune.bars[0], pickup=True), *tune.bars[1:]))
    assert "blues" not in form_name(cut, form)


def test_twelve_bars_that_never_go_to_the_fourth_are_no_blues(chart):
    tune = chart("|".join(["F6"] * 12), "F")
    assert "blues" not in form_name(tune, find_form(tune))


def test_names_of_other_forms(aaba, build, marked):
    assert form_name(aaba, find_form(aaba)) == "32-bar song form, AABA"
    strain = "c d e f|g2 e2|f e d c|"
    other = "g g a g|f2 d2|e d c B|"
    tune = build((strain + "d4|") * 2 + (other + "c4|") * 2)
    tune = marked(tune, {0: "A", 4: "A", 8: "B", 12: "B"})
    assert form_name(tune, find_form(tune)) == (
        "two strains of 4 bars, each played twice: AABB"
    )
