"""Which notes clash with the changes, and which only seem to."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.check.melody import clashes, melody_clashes
from kit.tune.model import transposed
from kit.tune.pitch import Interval


@pytest.fixture(scope="session")
def found(leaf):
    """Give bar, note and chord of each clash."""

    def find(music, **options):
        return [
            (clash.number, str(clash.note), str(clash.symbol))
            for clash in clashes(leaf(music, **options).tune)
        ]

    return find


@pytest.mark.parametrize(
    ("music", "clash"),
    [
        ('"Cmaj7"f8 |', (1, "F", "Cmaj7")),  # the fourth over a major chord
        ('"C7"f8 |', (1, "F", "C7")),  # and over a dominant
        ('"Cm7"_d8 |', (1, "D♭", "Cm7")),  # the flat ninth over a minor chord
        ('"Cm7"=e8 |', (1, "E", "Cm7")),  # the major third over a minor chord
        ('"Cm7"=b8 |', (1, "B", "Cm7")),  # the major seventh over a minor seventh
        ('"C"_a8 |', (1, "A♭", "C")),  # a half step above the fifth
        ('"C7"=b8 |', (1, "B", "C7")),  # the major seventh over a dominant
        ('"Cmaj7"_b8 |', (1, "B♭", "Cmaj7")),  # the minor seventh against the major one
        ('"Dm7b5"a8 |', (1, "A", "Dm7♭5")),  # the fifth over a flat fifth
    ],
)
def test_a_held_note_that_rubs_is_found(found, music, clash):
    assert found(music) == [clash]


@pytest.mark.parametrize(
    "music",
    [
        '"C"c4 e4 | g8 |',  # chord notes
        '"Cmaj7"d8 | a8 | ^f8 |',  # ninth, sixth and raised fourth
        '"G7"_a8 | ^a8 | _e8 | e8 |',  # colours of a dominant: ♭9, ♯9, ♭13, 13
        '"C7sus4"f8 |',  # the fourth belongs to the chord
        '"C"_e8 |',  # the blue third over a triad
        '"Cmaj7"z8 | e8 |',  # silence
        "f8 | b8 |",  # no changes at all
    ],
)
def test_chord_notes_and_colours_do_not_clash(found, music):
    assert found(music) == []


@pytest.mark.parametrize(
    ("music", "why"),
    [
        ('"Cmaj7"f2 e2 c4 |', "an appoggiatura resolves by step"),
        ('"Cmaj7"f4 e4 |', "so does a suspension of half the chord"),
        ('"Cmaj7"e2 f2 g4 |', "a passing note on a weak beat"),
        ('"Cmaj7"f g e2 c4 |', "a short note on the beat"),
        ('"Cmaj7"e6 f2 | "F"c8 |', "a last beat that is not strong"),
        ('"Cmaj7"e4 z2 f2- | "F"f8 |', "a note that comes a beat early"),
        ('"F"f7 z | "Cmaj7"z8 |', "a note that stops before the chord"),
        ('"F"f8- | "Cmaj7"f e7 |', "a note held over for an eighth"),
    ],
)
def test_what_only_passes_is_left_alone(found, music, why):
    assert found(music) == [], why


def test_a_fourth_that_stays_is_found_though_it_moves_down_at_last(found):
    assert found('"Cmaj7"f6 e2 |') == [(1, "F", "Cmaj7")]


def test_a_note_held_into_a_chord_that_it_rubs_against_is_found(found):
    assert found('"F"f8- | "Cmaj7"f8 |') == [(1, "F", "Cmaj7")]


def test_the_downbeat_of_a_waltz_and_the_middle_of_a_bar_are_strong(found):
    assert found('"Cmaj7"f2 c2 c2 |', meter="3/4") == [(1, "F", "Cmaj7")]
    assert found('"Cmaj7"c4 f2 c2 |') == [(1, "F", "Cmaj7")]
    assert found('"Cmaj7"c2 f2 c2 |', meter="3/4") == []


def test_the_same_clash_is_told_once_with_all_its_bars_and_notes(leaf):
    music = '"Cmaj7"f8 | "Am7"a8 | "Cmaj7"z2 e2 f4 |'
    (finding,) = melody_clashes(leaf(music))
    assert finding.severity == "hint"
    assert finding.code == "melody-clash"
    assert finding.numbers == (1, 3)
    assert finding.notes == ("b0n0", "b2n2")
    assert str(finding).startswith(
        "hint: tune.abc, beginner, bars 1 and 3: F over Cmaj7 is a half step above its "
    )


NOTES = ("c", "d", "e", "f", "g", "a", "b", "^f", "_e", "_b")


@settings(deadline=None)
@given(
    notes=st.lists(
        st.tuples(st.sampled_from(NOTES), st.sampled_from((2, 4, 8))), min_size=1
    ),
    chord=st.sampled_from(("C", "Cmaj7", "Dm7", "G7", "Am7b5", "Bdim7")),
    interval=st.sampled_from([Interval.parse(name) for name in ("m2", "M2", "-m3", "P4")]),
)
def test_clashes_move_with_the_tune(leaf, notes, chord, interval):
    bars = []
    for pitch, length in notes:
        bars.append(f'"{chord}"{pitch}{length}' + (f" z{8 - length}" if length < 8 else ""))
    tune = leaf(" | ".join(bars) + " |").tune
    there = [(clash.place, clash.note + interval) for clash in clashes(tune)]
    moved = clashes(transposed(tune, interval))
    assert [(clash.place, clash.note) for clash in moved] == there
