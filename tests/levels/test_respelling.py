"""Over another chord a melody note may have another name, never another sound."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.errors import LevelError
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit, family_of
from kit.levels.rewrite import sounds_of


def names(tune):
    return " ".join(str(sound.pitch.name) for sound in sounds_of(tune))


def edited(tune, bar, do, beat=1, **options):
    return apply_edit(tune, Edit(bar, Fraction(beat), do, tuple(options.items())))


def test_a_note_of_the_new_chord_has_its_name_in_the_chord(build):
    tune = build('"B7"^d a ^f2|"Em"e4|]', "Em")
    over_f7 = edited(tune, 1, "tritone substitute")
    assert str(over_f7.bars[0].chords[0].symbol) == "F7"
    # The third of B7 is the seventh of F7; F sharp is no note of F7 and keeps its name.
    assert names(over_f7) == "E♭ A F♯ E"
    assert names(edited(over_f7, 1, "chord", to="B7")) == "D♯ A F♯ E"


def test_a_note_of_the_key_follows_too(build):
    tune = build('"B7"^d4|"E6"e4|]', "E")
    assert names(edited(tune, 1, "tritone substitute")) == "E♭ E"


def test_names_that_are_rarely_read_are_not_given(build):
    tune = build('"G7"f2 b2|"Cmaj7"b4|]')
    assert names(edited(tune, 1, "tritone substitute")) == "F B B"
    assert names(edited(tune, 1, "chord", to="C#7")) == "F B B"


def test_a_new_chord_reaches_to_the_next_one(build):
    tune = build('"B7"^d4|^d4|"Em"^d4|]', "Em")
    assert names(edited(tune, 1, "chord", to="F7")) == "E♭ E♭ D♯"


def test_all_symbols_of_a_tied_note_are_renamed_and_the_tie_holds(build):
    tune = build('"B7"z2 ^d2-|^d4|"Em"e4|]', "Em")
    over_f7 = edited(tune, 1, "chord", to="F7")
    assert names(over_f7) == "E♭ E"
    assert [note.tied for bar in over_f7.bars for note in bar.notes if note.pitch] == [
        True,
        False,
        False,
    ]


def test_a_note_that_comes_early_belongs_to_the_chord_it_anticipates(build):
    tune = build('"Em"e3 ^d-|"B7"^d4|"Em"e4|]', "Em")
    assert names(edited(tune, 2, "tritone substitute")) == "E E♭ E"


def test_a_note_that_is_tied_into_another_ending_keeps_its_name(build):
    tune = build('"B7"e3 ^d|1 "Em"e4 :|2 ^d4|]', "Em")
    first = tune.bars[0]
    notes = (first.notes[0], replace(first.notes[1], tied=True))
    tune = replace(tune, bars=(replace(first, notes=notes), *tune.bars[1:]))
    assert names(edited(tune, 1, "chord", to="F7")) == "E D♯ E D♯"


def test_a_fill_has_the_names_that_are_played(build):
    tune = build('"Db7"_d4|"C6"c4|]')
    # The seventh of D♭7 is a C flat by the letter.
    assert names(edited(tune, 1, "fill", notes=6)) == "D♭ F A♭ B A♭ F D♭ C"


@pytest.mark.parametrize(
    ("key", "target", "below"),
    [("F#m", "f", "E♯"), ("C", "^f", "F"), ("F#", "f", "E♯"), ("C#m", "c", "B♯")],
)
def test_a_chromatic_step_has_the_keys_own_name_if_there_is_one(build, key, target, below):
    tune = build(f"a2 {target}2|a4|]", key)
    assert names(edited(tune, 1, "approach", 3, step="chromatic")).split()[1] == below


HARMONY = sorted(name for name in OPERATIONS if family_of(name) == "harmony")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    st.integers(1, 32),
    st.sampled_from([1, 3]),
    st.sampled_from(HARMONY),
    st.sampled_from(["F7", "Dbmaj7", "F#m7b5", "B7alt", "Abm6"]),
)
def test_an_edit_of_the_changes_never_changes_a_sound(aaba, bar, beat, do, to):
    options = {"chord": {"to": to}, "chord quality": {"to": "7"}}.get(do, {})
    try:
        after = edited(aaba, bar, do, beat, **options)
    except LevelError:
        return
    before = [(s.start, s.duration, s.pitch.midi) for s in sounds_of(aaba)]
    assert [(s.start, s.duration, s.pitch.midi) for s in sounds_of(after)] == before


@pytest.mark.parametrize("to", ["F7", "Db7", "Abm7", "F#m7b5"])
def test_no_note_of_a_new_chord_has_a_name_beside_it(aaba, to):
    after = edited(aaba, 1, "chord", to=to)
    symbol = after.bars[0].chords[0].symbol
    plain = {n.pitch_class: n for n in symbol.note_names if abs(n.alter) < 2}
    rare = {("E", 1), ("B", 1), ("C", -1), ("F", -1)}
    for note in after.bars[0].notes:
        name = plain.get(note.pitch.midi % 12) if note.pitch else None
        if name is not None and (name.step, name.alter) not in rare:
            assert note.pitch.name == name
