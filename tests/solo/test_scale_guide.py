"""The scale for a section: the simplest that serves, and why."""

from __future__ import annotations

import re

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.form.find import find_form
from kit.form.sections import Form, Section
from kit.solo._in_place import placed_chords
from kit.solo._scales import chord_scale, fit, rubbing, scale_on
from kit.solo.guide import scale_guide
from kit.solo.phrases import phrase_plan
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
    # The second time bar 16 comes home on Cm6; the third is like the first.
    assert over_five.numbers == (2, 6, 8, 10, 14, 26, 30)


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


def test_a_blues_is_not_told_to_take_care_over_every_chord(build):
    blues = chart(build, "Bb7 Eb7 Bb7 Bb7 Eb7 Eb7 Bb7 Bb7 F7 Eb7 Bb7 F7", "Bb")
    for section in scale_guide(blues, find_form(blues)):
        assert "take care" not in section.reason
        assert "as they should in a blues" in section.reason


def test_where_every_chord_has_a_note_that_moves_on_none_is_named(build):
    cycle = chart(build, "D7 D7 G7 G7 C7 C7 F7 F7", "Bb")
    (section,) = scale_guide(cycle, find_form(cycle))
    careful = [chord for chord in section.chords if chord.care]
    assert len(careful) == len(section.chords)
    assert "over each chord it has a note that wants to move on" in section.reason


def test_of_many_chords_the_three_that_sound_longest_are_named(build):
    text = "F6 D7 Gm7 C7 F6 E7 G7 C7 A7 A7 D7 D7 G7 G7 C7 C7"
    tune = chart(build, text, "F")
    words = " ".join(s.reason for s in scale_guide(tune, Form((Section("A", 0, 15),))))
    assert "take care above all over D7, C7 and G7." in words


@pytest.mark.parametrize(
    ("text", "key", "scale", "later"),
    [
        ("Em Fmaj7 Em Fmaj7", "EPhr", "E phrygian", "F, the second note"),
        ("Em F Em F Em F Em Em", "Em", "E phrygian", "F, the second note"),
        ("Em7 Fmaj7 Em7 Fmaj7", "C", "E phrygian", "F, the second note"),
        ("Fmaj7 G/F Fmaj7 Em7", "FLyd", "F lydian", "B, the fourth note"),
        ("Fmaj7 G/F Fmaj7 G/F", "C", "F lydian", "B, the fourth note"),
        ("Ebmaj7 F/Eb Ebmaj7 F/Eb", "Bb", "E♭ lydian", "A, the fourth note"),
    ],
)
def test_phrygian_and_lydian_sections_get_their_own_scale(build, text, key, scale, later):
    tune = chart(build, text, key)
    for section in scale_guide(tune, find_form(tune)):
        assert str(section.scale) == str(section.next_scale) == scale
        assert f"It sounds like {scale}" in section.reason
        assert later in section.later


@pytest.mark.parametrize("text", ["F G F G", "Fmaj7 G7 Fmaj7 G7", "Dm7 G7 Dm7 G7"])
def test_a_fourth_and_fifth_of_the_key_are_not_lydian(build, text):
    tune = chart(build, text)
    modes = {section.key.mode for section in scale_guide(tune, find_form(tune))}
    assert modes <= {"major", "minor"}


def test_a_neapolitan_before_its_five_is_not_phrygian(build):
    tune = chart(build, "Em F B7 Em Em F B7 Em", "Em")
    assert {str(s.key) for s in scale_guide(tune, find_form(tune))} == {"E minor"}


def test_a_two_five_in_minor_is_offered_its_harmonic_minor(build):
    tune = chart(build, "Cm7 Dm7b5 G7 Cm7 Cm7 Dm7b5 G7 Cm7", "Cm")
    section = scale_guide(tune, Form((Section("A", 0, 7),)))[0]
    assert section.two_fives == (
        "Over Dm7♭5 G7 (bars 2 and 3, and each time they return) one scale holds both "
        "chords: C harmonic minor, that is C D E♭ F G A♭ B.",
    )
    altered = chart(build, "Cm7 Dm7b5 G7alt Cm7", "Cm")
    assert scale_guide(altered, find_form(altered))[0].two_fives == ()


def test_a_two_five_that_two_sections_share_is_said_once(build):
    tune = chart(build, "Cm7 Dm7b5 G7 Cm7 Ebmaj7 Dm7b5 G7 Cm7", "Cm")
    first, second = scale_guide(tune, Form((Section("A", 0, 3), Section("B", 4, 7))))
    assert [said.partition(" one scale")[0] for said in first.two_fives] == [
        "Over Dm7♭5 G7 (bars 2 and 3, and each time they return)"
    ]
    assert second.two_fives == ()


def test_a_chord_that_goes_to_two_places_has_two_scales(build):
    tune = chart(build, "C6 A7 Dm7 G7 C6 A7 D7 G7")
    section = scale_guide(tune, Form((Section("A", 0, 7),)))[0]
    found = [(c.numbers, c.scale_words) for c in section.chords if str(c.symbol) == "A7"]
    assert found == [
        ((2,), "A mixolydian ♭9♭13, or altered"),
        ((6,), "A mixolydian, or lydian dominant"),
    ]


def test_what_a_later_time_does_otherwise_is_advised_on_too(build):
    blues = chart(build, "Bb7 Eb7 Bb7 Bb7 Eb7 Eb7 Bb7 G7 Cm7 F7 Bb7 F7", "Bb")
    advised = {
        str(c.symbol) for s in scale_guide(blues, find_form(blues)) for c in s.chords
    }
    assert advised == {"B♭7", "E♭7", "G7", "Cm7", "F7"}


RARE = re.compile(r"[A-G](?:𝄪|𝄫|♯♯|♭♭)|[EB]♯|[CF]♭")
CHARTS = {
    "major": "C6 A7 Dm7 G7 Em7 Eb7 Dm7 Db7 Cmaj7 F7 Bm7b5 E7 Am7 Fm6 Gsus4 G7",
    "minor": "Cm7 Fm7 Dm7b5 G7 Cm6 Ab7 Dbmaj7 G7 Ebmaj7 Abmaj7 Bdim7 C7 Fm6 Bb7 G7alt Cm",
}


@pytest.mark.parametrize("mode", CHARTS)
@pytest.mark.parametrize("fifths", range(-6, 7))
def test_words_have_no_name_that_the_scale_beside_them_lacks(build, mode, fifths):
    plain = chart(build, CHARTS[mode], {"major": "C", "minor": "Cm"}[mode])
    tune = transposed(plain, Interval(4 * fifths, 7 * fifths))
    tune = transposed(tune, -Interval(7, 12)) if fifths > 2 else tune
    form = Form((Section("A", 0, 15),))
    (section,) = scale_guide(tune, form)
    allowed = {*map(str, section.scale.notes), *map(str, section.next_scale.notes)}
    words = [section.sentence, section.next_reason, *(c.sentence for c in section.chords)]
    words += [phrase.text for phrase in phrase_plan(tune, form)]
    own = {str(name) for name in (*tune.key.scale, tune.key.tonic + Interval(6, 11))}
    # A root is named as in the symbol over the staff.
    own |= {str(chord.symbol.root) for chord in section.chords}
    for sentence in words:
        said = sentence
        # A chord is named as it is printed over the staff.
        for chord in sorted((str(c.symbol) for c in section.chords), key=len, reverse=True):
            said = said.replace(chord, "")
        assert {*RARE.findall(said)} <= allowed | own, sentence
        assert "𝄪" not in said
        assert "𝄫" not in said


BARS = st.lists(
    st.sampled_from(["C6", "Dm7", "G7", "N.C.", "", "Am7,D7", "G7sus4,G7", ",F7"]),
    min_size=4,
    max_size=16,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(BARS, st.integers(1, 15))
def test_neighbours_across_the_borders_of_sections_are_those_in_playing_order(
    build, bars, cut
):
    def written(bar):
        chords = [f'"{chord}"' if chord else "" for chord in bar.split(",")]
        return f"{chords[0]}c2 {chords[-1] if len(chords) > 1 else ''}c2"

    tune = build("|".join(written(bar) for bar in bars) + "|]")
    last = len(bars) - 1
    cut = min(cut, last)
    stretches = [(0, cut - 1), (cut, last)]
    whole = placed_chords(tune, [(0, last)])[0]
    seen = {(one.symbol, one.before, one.after) for one in whole}
    for part in placed_chords(tune, stretches):
        assert {(one.symbol, one.before, one.after) for one in part} <= seen
