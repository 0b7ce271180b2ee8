"""The scale for a section: the simplest that serves, and why."""

from __future__ import annotations

import pytest

from kit.form.find import find_form
from kit.solo._scales import chord_scale, fit, rubbing, scale_on
from kit.solo.guide import scale_guide
from kit.tune.chord_text import parse_chord
from kit.tune.model import transposed
from kit.tune.pitch import Interval, Key, NoteName


@pytest.fixture
def guide(aaba):
    return scale_guide(aaba, find_form(aaba))


def chart(build, text, key="C"):
    return build("|".join(f'"{symbol}"c4' for symbol in text.split()) + "|]", key)


def test_a_minor_section_gets_its_pentatonic_and_the_bridge_its_own(guide):
    assert [(s.label, str(s.scale)) for s in guide] == [
        ("A", "C minor pentatonic"),
        ("B", "E♭ major pentatonic"),
    ]
    assert guide[0].places == (0, 1, 3)
    assert guide[0].numbers == tuple(range(1, 17)) + tuple(range(25, 33))


def test_the_next_scale_follows_the_changes(build):
    dorian = chart(build, "Cm6 F7 Cm6 F7", "Cm")
    natural = chart(build, "Cm7 Fm7 Cm7 Fm7", "Cm")
    assert scale_guide(dorian, find_form(dorian))[0].next_scale.name == "dorian"
    assert scale_guide(natural, find_form(natural))[0].next_scale.name == "natural minor"


def test_a_blues_gets_the_blues_scale_and_a_major_tune_does_not(build):
    blues = chart(build, "F7 Bb7 F7 F7 Bb7 Bb7 F7 D7 Gm7 C7 F7 C7", "F")
    major = chart(build, "C6 Am7 Dm7 G7 C6 Am7 Dm7 G7")
    assert {str(s.scale) for s in scale_guide(blues, find_form(blues))} == {"F blues"}
    assert str(scale_guide(major, find_form(major))[0].scale) == "C major pentatonic"


def test_the_guide_speaks_in_the_players_key(aaba):
    written = transposed(aaba, Interval.parse("M9"))
    (first, _) = scale_guide(written, find_form(written))
    assert first.sentence.startswith(
        "A (bars 1–16 and 25–32): D minor pentatonic, that is D F G A C."
    )


def test_notes_to_treat_with_care_come_with_their_reason(guide):
    over_five = next(c for c in guide[0].chords if str(c.symbol) == "G7")
    assert over_five.sentence == (
        "Over G7, rest on G or F; pass through C (a half step above B, the third)."
    )
    assert [str(note) for note in over_five.missing] == ["B", "D"]
    assert over_five.numbers == (2, 6, 8)


def test_chord_notes_never_need_care_and_care_notes_are_in_the_scale(guide):
    for section in guide:
        for advice in section.chords:
            care = {note for note, _ in advice.care}
            assert not care & set(advice.symbol.note_names)
            assert care <= set(section.scale.notes)
            assert set(advice.good) | set(advice.missing) == set(advice.symbol.note_names)


def test_a_scale_that_holds_the_chord_fits_better():
    chord = parse_chord("Dm7")
    dorian = scale_on("dorian", NoteName("D"))
    assert fit(dorian, chord) == 1.0
    assert fit(dorian, chord) > fit(scale_on("major", NoteName("E")), chord)
    assert rubbing(scale_on("major", NoteName("C")), parse_chord("Cmaj7"))[0][0].step == "F"


def test_a_tune_without_chords_gets_no_scales(build):
    tune = build("c d e f|g4|]")
    assert scale_guide(tune, find_form(tune)) == ()
    assert chord_scale(parse_chord("N.C."), Key(0)) is None
