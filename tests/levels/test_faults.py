"""What a teacher would strike out of a finished sheet, rule by rule."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.form.find import find_form
from kit.levels._faults import Reading, on_the_grid
from kit.levels._limits import Limits
from kit.levels._music import Music
from kit.levels.draft import draft_edits
from kit.levels.edits import apply_edits
from kit.levels.idioms import idiom_named
from kit.levels.suggest import suggestions
from kit.levels.wishes import Terms
from kit.tune.model import Meter
from kit.tune.unfold import unfolded


def faults(tune, idiom="air", qpm=120.0):
    limits = Limits(quarter_s=60 / qpm, shortest_s=0.11)
    return {
        rule for rule, _, _ in Reading(Music.of(tune), limits, idiom_named(idiom)).faults
    }


@pytest.mark.parametrize(("qpm", "fault"), [(100, False), (240, True)])
def test_a_turn_needs_a_quarter_of_a_second(build, qpm, fault):
    assert ("turn without time" in faults(build("!turn!c d e f|"), qpm=qpm)) == fault


def test_a_grace_note_is_not_the_note_just_played(build):
    assert "grace says the note before" in faults(build("d {d}c e f|"))
    assert not faults(build("e {d}c e f|"))


def test_a_grace_note_needs_time(build):
    assert "grace without time" in faults(build("e/ {d}c/ e f g|"), qpm=240)


def test_a_grace_note_does_not_slide_over_an_augmented_second(build):
    assert "grace too far away" in faults(build("e {_B}^c d e|", key="Dm"))


@pytest.mark.parametrize(
    ("body", "fault"),
    [("!turn!.c d e f|", True), ("!turn!c !turn!d e f|", True), ("!turn!c d .e f|", False)],
)
def test_ornaments_are_not_short_and_not_in_a_row(build, body, fault):
    assert bool(faults(build(body), qpm=60)) == fault


@pytest.mark.parametrize(
    ("onset", "duration", "meter", "good"),
    [
        ("0", "3/4", "4/4", True),
        ("3/4", "3/4", "4/4", False),
        ("3/4", "1/4", "4/4", True),
        ("1/3", "1/3", "4/4", True),
        ("3/4", "3/4", "6/8", False),
        ("1/2", "1/2", "6/8", True),
        ("1/4", "1/4", "6/8", True),
    ],
)
def test_notes_stand_on_the_beats_grid(onset, duration, meter, good):
    args = Fraction(onset), Fraction(duration), Meter.parse(meter)
    assert on_the_grid(*args) == good


@pytest.mark.parametrize(
    ("body", "rubs"),
    [
        ('"C7"c4|', False),
        ('"Db7"c4|', True),  # half a step below the root
        ('"B7"c4|', True),  # half a step above it
        ('"F"f7/2 e/|"C"e4|', False),  # a short note is in passing ...
        ('"F"f2 e2|"C"e4|', True),  # ... a held one is not
        ('"F"f7/2 e/-|"C"e4|', False),  # it comes early
    ],
)
def test_a_held_note_does_not_rub_on_either_side(build, body, rubs):
    assert ("rubs" in faults(build(body), qpm=240)) == rubs


def test_a_foreign_note_goes_on_by_a_half_step(build):
    assert "chromatic note not led on" in faults(build("c ^f a c|"))
    assert not faults(build("c ^f g c|"))


def test_no_leap_is_wider_than_an_octave(build):
    assert any(rule.startswith("leap") for rule in faults(build("C e g2|")))


MARCH = "c3/4e/4 g3/4e/4|c3/4e/4 g|" * 4


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_dotted_pairs_keep_their_lilt_in_a_march(build, level):
    tune = replace(build(MARCH, meter="2/4"), feel="March")
    edits = draft_edits(tune, find_form(unfolded(tune)), level=level)
    after = Music.of(apply_edits(tune, edits)).sounds
    assert edits
    for sound in Music.of(tune).sounds:
        if sound.duration < 1:
            assert (sound.start, sound.duration) in {(s.start, s.duration) for s in after}


BLUES = (
    'P:A\n"C7"e4|"F7"a4|"C7"e4|"C7"_b4|"F7"a4|"F7"a4|'
    '"C7"e4|"C7"e4|"G7"f4|"F7"a4|"C7"e4|"G7"f4|'
)


def test_the_tonic_of_a_blues_stays_in_bar_1(build):
    tune = build(BLUES)
    found = suggestions(tune, find_form(tune), level="advanced")
    harmony = {item.edit.bar for item in found if "tritone" in item.edit.do}
    assert 1 not in harmony
    assert 4 in harmony  # on the way to the fourth step it is at home


def test_a_suggestion_says_if_another_printing_has_it(build):
    tune = replace(build("d/f/a/ b/a/f/|" * 8, meter="6/8"), feel="jig")
    found = suggestions(tune, find_form(tune), level="advanced")
    told = [item for item in found if "another printing" in item.reason]
    assert {item.edit.do for item in told} & {"grace", "pitch"}


def test_a_draft_is_read_at_the_tempo_that_is_given(build):
    tune = replace(build("c d/e/ f/e/d|" * 8), feel="march")
    form = find_form(tune)
    graces = []
    for tempo in (60.0, 400.0):
        terms = Terms(idiom_named("march"), tempo)
        edits = draft_edits(tune, form, level="advanced", terms=terms)
        graces.append(sum(edit.do in ("grace", "turn") for edit in edits))
    assert graces[0] > graces[1] == 0


def test_a_tempo_of_zero_is_a_programmers_mistake():
    with pytest.raises(ValueError, match="above zero"):
        Terms(idiom_named("jig"), 0)
