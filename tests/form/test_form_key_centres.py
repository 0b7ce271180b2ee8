"""Which key centres a row of changes has, and which of them are certain."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.form.harmony import Change, changes
from kit.form.key_centres import centres_of, key_centre, key_centres, main_key
from kit.tune.chord import KINDS, ChordSymbol
from kit.tune.model import transposed
from kit.tune.pitch import Interval, Key, NoteName


def heard(tune):
    return [str(centre.key) for centre in key_centres(tune)]


@pytest.mark.parametrize(
    ("text", "home", "expected"),
    [
        ("Fm7|Bb7|Ebmaj7|Ebmaj7", "C minor", "Eb major"),
        ("Cm6|Fm7|Dm7b5 G7|Cm6", "C minor", "C minor"),
        ("C6|Am7|Dm7|G7", "C major", "C major"),
        ("Am7|D7|Gmaj7|Gmaj7", "C major", "G major"),
        ("F7|Bb7|F7|F7", "F major", "F major"),
    ],
)
def test_the_one_key_of_a_row_of_chords(chart, text, home, expected):
    tune = chart(text)
    assert key_centre(changes(tune), Key.parse(home)).name == expected


def test_a_key_centre_without_chords_is_home(build):
    assert key_centre(changes(build("c4|")), Key.parse("G major")).name == "G major"


def test_a_chain_of_dominants_is_no_key_and_leads_home(chart):
    (chain,) = key_centres(chart("D7|D7|G7|G7|C7|C7|F7|F7", "Bb"))
    assert chain.dominants
    assert str(chain.key) == "B♭ major"


def test_each_dominant_of_a_chain_may_have_its_two(chart):
    (chain,) = key_centres(chart("Am7 D7|Dm7 G7|Gm7 C7|Cm7 F7", "Bb"))
    assert chain.dominants


def test_a_chain_that_comes_to_rest_belongs_to_the_key_it_rests_in(chart):
    (centre,) = key_centres(chart("E7|A7|D7|G6", "G"))
    assert not centre.dominants
    assert centre.certain


def test_a_declared_mode_is_believed(chart):
    (centre,) = key_centres(chart("Am7|D7|Am7|D7", "Ador"))
    assert (str(centre.key), centre.certain) == ("A dorian", True)


def test_a_declared_mode_with_a_foreign_part_is_not_certain(chart):
    for text in ("Dm7|Ebm7|Dm7|Ebm7", "Dm7|Am7|Ebm7|Dm7"):
        (centre,) = key_centres(chart(text, "Ddor"))
        assert (str(centre.key), centre.certain) == ("D dorian", False)


def test_the_same_vamp_under_another_signature_is_in_doubt(chart):
    (centre,) = key_centres(chart("Am7|D7|Am7|D7", "C"))
    assert (str(centre.key), centre.certain) == ("A dorian", False)


def test_a_two_and_five_that_never_come_home_are_in_doubt(chart):
    (centre,) = key_centres(chart("Dm7|G7|Dm7|G7", "C"))
    assert (str(centre.key), centre.certain) == ("C major", False)


@pytest.mark.parametrize(
    "text", ["C6|C7|F6|Fm6|C6|G7|C6|C6", "C6|D7|G7|C6", "C6|A7|Dm7|G7", "C6|E7|F6|G7"]
)
def test_borrowed_chords_and_applied_dominants_leave_the_key_alone(chart, text):
    assert heard(chart(text)) == ["C major"]


def test_tonic_and_two_five_make_a_key_that_may_be_left_again(chart):
    text = "Ebmaj7|Cm7|Fm7|Bb7|Bmaj7|G#m7|C#m7|F#7|Abmaj7|Fm7|Bbm7|Eb7|Emaj7|C#m7|F#m7|B7"
    assert heard(chart(text, "Eb")) == ["E♭ major", "B major", "A♭ major", "E major"]


def test_a_goal_that_is_the_two_of_the_next_dominant_is_no_key(chart):
    text = "Fmaj7|Em7b5 A7|Dm7 G7|Cm7 F7|Bb6|Bbm7 Eb7|Am7 D7|Gm7 C7"
    assert heard(chart(text, "F")) == ["F major"]


def test_a_last_bar_that_leads_back_is_no_key_and_two_bars_are_one(chart):
    text = "F#m7|B7|Emaj7|Emaj7|F#m7|B7|Emaj7"
    assert heard(chart(f"{text}|Dm7 G7")) == ["E major"]
    assert heard(chart(f"{text}|Emaj7|Dm7|G7|G7|G7")) == ["E major", "C major"]


def test_a_picardy_third_ends_a_minor_tune(chart):
    assert heard(chart("Dm|Gm|A7|Dm|Bb|Gm|A7|D", "Dm")) == ["D minor"]


def test_a_waltz_in_f_stays_in_f(build):
    bars = ["F", "F", "D7", "D7", "Gm7", "C7", "F", "C7"]
    assert heard(build("|".join(f'"{c}"c3' for c in bars) + "|]", "F", "3/4")) == [
        "F major"
    ]


def test_centres_are_spelled_as_their_chords_are(chart):
    text = "Fm7|Bb7|Ebmaj7|Ebmaj7|C#m7|F#7|Bmaj7|Bmaj7"
    assert heard(chart(text, "Eb")) == ["E♭ major", "B major"]
    assert heard(chart(text.replace("C#", "Db").replace("F#", "Gb"), "Eb")) == [
        "E♭ major",
        "B major",
    ]


def test_a_key_beyond_seven_accidentals_is_written_as_its_neighbour(chart):
    assert heard(chart("D#7|G#|D#7|G#", "C")) == ["A♭ major"]


def test_a_written_key_change_is_believed(build):
    tune = build('"C"c4|"G7"B4|"C"c4|"C"c4|[K:D]"D"d4|"A7"e4|"D"d4|"D"d4|]')
    first, second = key_centres(tune)
    assert [str(first.key), str(second.key)] == ["C major", "D major"]
    assert (first.first, second.first) == (0, 4)
    assert second.duration == 16


def test_the_one_key_is_where_the_chords_stay_longest(chart):
    tune = chart("Fm7|Bb7|Ebmaj7|Ebmaj7|Fm7|Bb7|Dm7b5|G7", "Cm")
    assert str(key_centre(changes(tune), tune.key)) == "E♭ major"


@pytest.mark.parametrize(
    "text",
    [
        "C6|C6|C6|C6",
        "F6|F6|F6|F6",
        "Cmaj7|Ebmaj7|Gbmaj7|Amaj7",
        "C7|Eb7|Gb7|A7",
        "C|D|E|F#",
        "Dm7|Dm7|Ebm7|Ebm7",
        "C6|F#6|C6|F#6",
        "C5|Bbsus2|C5|G5",
    ],
)
def test_without_a_cadence_no_key_is_borne_out(chart, text):
    assert [(c.certain, c.borne_out) for c in key_centres(chart(text))] == [(False, False)]


def test_a_blues_under_another_signature_is_heard_but_not_certain(chart):
    (centre,) = key_centres(chart("G7|C7|G7|G7|C7|C7|G7|G7|D7|C7|G7|D7"))
    assert (str(centre.key), centre.certain) == ("G major", False)


def test_chords_that_nobody_knows_make_every_key_uncertain(chart):
    known = chart("C6|G7|C6|C6|G7|C6")
    held = [
        Change(c.bar, c.onset, c.duration, ChordSymbol(NoteName("G"), "other", text="x"))
        if str(c.symbol) == "G7" and c.bar == 4
        else c
        for c in changes(known)
    ]
    assert [c.certain for c in centres_of(held, known.key)] == [True]
    long = [Change(9, c.onset, 99, c.symbol) if not c.symbol.notes else c for c in held]
    assert [c.certain for c in centres_of(long, known.key)] == [False]


@pytest.mark.parametrize(
    "symbol", [ChordSymbol(None, "none"), ChordSymbol(NoteName("C"), "other")]
)
def test_nothing_but_silent_or_unknown_chords_have_no_centre(build, symbol):
    held = [Change(0, 0, 4, symbol)]
    home = Key.parse("G major")
    assert centres_of(held, home) == ()
    assert main_key((), home) == home
    assert key_centres(build("c4|")) == ()


SYMBOLS = st.builds(
    ChordSymbol,
    st.integers(-5, 6).map(NoteName.from_fifths),
    st.sampled_from(sorted(set(KINDS) - {"none"})),
)
KEYS = st.builds(
    Key,
    st.integers(-3, 3),
    st.sampled_from(
        ["major", "minor", "dorian", "mixolydian", "lydian", "phrygian", "locrian"]
    ),
)


@settings(max_examples=80, deadline=None)
@given(
    chords=st.lists(
        st.tuples(SYMBOLS, st.sampled_from([1, 2, 4])), min_size=1, max_size=12
    ),
    home=KEYS,
    interval=st.sampled_from(["m2", "M3", "P5", "-m3"]).map(Interval.parse),
)
def test_any_chords_have_centres_in_order_that_move_with_them(chords, home, interval):
    held = [Change(k, 0, length, symbol) for k, (symbol, length) in enumerate(chords)]
    found = centres_of(held, home)
    sounding = tuple(change for change in held if change.symbol.note_names)
    assert tuple(change for centre in found for change in centre.chords) == sounding
    assert all(one.key != two.key for one, two in pairwise(found))
    assert all(-7 <= one.key.fifths <= 7 for one in found if one.key != home)
    moved = centres_of(
        [Change(c.bar, c.onset, c.duration, c.symbol + interval) for c in held],
        home + interval,
    )
    assert [
        ((c.key.tonic.pitch_class + interval.semitones) % 12, c.key.mode, c.certain)
        for c in found
    ] == [(c.key.tonic.pitch_class, c.key.mode, c.certain) for c in moved]


def test_a_written_part_has_the_same_centres_in_its_own_key(chart):
    tune = chart("Gm7|C7|Fmaj7|Fmaj7|Am7|D7|Gmaj7|Gmaj7")
    assert heard(tune) == ["F major", "G major"]
    assert heard(transposed(tune, Interval.parse("M6"))) == ["D major", "E major"]
