"""The table of decorations is complete, and everything that is told of one agrees."""

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.engrave.words import describe_bars
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.levels.compare import compare
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit
from kit.levels.kinds import kind_words
from kit.tune.abc.read import read_abc
from kit.tune.marks import edited_marks, marks
from kit.tune.musicxml.read import read_musicxml
from kit.tune.musicxml.write import write_musicxml

HEAD = "X:1\nT:Lamp\nM:4/4\nL:1/4\nK:C\n"
PLAIN = read_abc(f"{HEAD}G G G G |]", source="lamp.abc")
FLUTE = instrument("flute")


def with_mark(name):
    bar = PLAIN.bars[0]
    notes = (replace(bar.notes[0], marks=(name,)), *bar.notes[1:])
    return replace(PLAIN, bars=(replace(bar, notes=notes),))


@pytest.mark.parametrize("name", marks())
def test_every_decoration_survives_a_musicxml_file(name):
    again = read_musicxml(write_musicxml(with_mark(name)), source="lamp.musicxml")
    assert again.bars[0].notes[0].marks == (name,)
    assert not again.notices


@pytest.mark.parametrize(
    ("written", "name"),
    [(written, mark.name) for mark in marks().values() for written in mark.abc],
)
def test_every_name_in_abc_is_read(written, name):
    tune = read_abc(f"{HEAD}!{written}!G G G G |]", source="lamp.abc")
    assert tune.bars[0].notes[0].marks == (name,)


@pytest.mark.parametrize("name", marks())
def test_a_comparison_tells_it_in_the_words_of_the_table(name):
    mark = marks()[name]
    (gained,) = compare(PLAIN, with_mark(name))
    told = "is ghosted" if name == "ghost" else f"gets {mark.one}"
    assert gained.text == f"bar 1: the first note {told}"
    assert kind_words(gained.kind).one[:2] in ("a ", "an")
    (lost,) = compare(with_mark(name), PLAIN)
    assert lost.text == f"bar 1: the first note loses its {mark.spoken}"


@pytest.mark.parametrize(
    # A flute is not told how to bow.
    "name",
    [name for name, mark in marks().items() if mark.group != "technical"],
)
def test_a_screen_reader_says_it_behind_the_note(name):
    (bar,) = describe_bars(write_part(with_mark(name), FLUTE))
    assert f"quarter, {marks()[name].spoken};" in bar


@pytest.mark.parametrize(
    ("edit", "mark"),
    [(edit, mark) for edit, signs in edited_marks().items() for mark in signs],
    ids=lambda value: getattr(value, "name", value),
)
def test_the_edit_puts_the_sign_and_the_comparison_names_the_edit(edit, mark):
    options = (("to", mark.to),) if mark.to else ()
    edited = apply_edit(PLAIN, Edit(1, Fraction(1), edit, options))
    assert edited.bars[0].notes[0].marks == (mark.name,)
    assert [one.kind for one in compare(PLAIN, edited)] == [edit]
    assert OPERATIONS[edit].words == edited_marks()[edit][0].effect != ""
