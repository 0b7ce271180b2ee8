"""Differences between two levels, recovered from their notes alone."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.errors import LevelError
from kit.levels._align import aligned
from kit.levels.compare import compare
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit, apply_edits, apply_edits_reporting
from kit.levels.rewrite import bar_starts, sounds_of
from kit.tune._validate import validate_tune
from kit.tune.model import note_id

THIRD = "bar 1: the third note"


def texts(lower, upper):
    return [difference.text for difference in compare(lower, upper)]


@pytest.mark.parametrize(
    ("bar", "beat", "name", "options", "expected"),
    [
        (3, 1, "early", (), "bar 3: the first note comes an eighth early"),
        (1, 4, "late", (), "bar 1: the third note comes an eighth late"),
        (1, 4, "grace", (), f"{THIRD} gets a grace note from a half step below"),
        (1, 1, "repeat", (), "bar 1: the first note is struck twice"),
        (1, 3, "leave out", (), "bar 1: the second note is left out"),
        (1, 4, "octave down", (), "bar 1: the third note is an octave lower"),
        (1, 3, "pitch", (("to", "E5"),), "bar 1: the second note is E instead of E♭"),
        (1, 1, "shorten", (), "bar 1: the first note is an eighth shorter"),
        (7, 1, "lengthen", (), "bar 7: the first note lasts an eighth longer"),
        (1, 3, "accent", (), "bar 1: the second note gets an accent"),
        (1, 3, "ghost", (), "bar 1: the second note is ghosted"),
        (1, 1, "neighbour note", (), "bar 1: C moves to its lower neighbour B♭ and back"),
        (1, 1, "passing note", (), "bar 1: D passes to E♭ on beat 3"),
        (4, 3, "approach", (), "bar 4: a new F♯ on beat 2½"),
        (1, 3, "enclosure", (), "bar 1: F D close in on E♭ on beat 3 from both sides"),
        (
            17, 1, "register", (("to", "lower"), ("bars", 2)),
            "bar 17: five notes from the first on are an octave lower",
        ),
        (
            2, 1, "chord quality", (("to", "7"),),
            "bar 2: Dm7♭5 becomes D7, the dominant of G7",
        ),
        (6, 3, "tritone substitute", (), "bar 6: G7 becomes D♭7, its tritone substitute"),
        (18, 1, "ii before V", (), "bar 18: Fm7 comes before B♭7: the ii before the V"),
        (5, 1, "secondary dominant", (), "bar 4: C7 is added, the dominant of Fm7"),
        (
            2, 1, "displace", (("notes", 3),),
            "bar 2: three notes from the first on come an eighth late",
        ),
    ],
)  # fmt: skip
def test_each_edit_is_said_in_the_trades_words(aaba, bar, beat, name, options, expected):
    if name == "approach":
        expected = "bar 4: F♯ leads to G on beat 3 from a half step below"
    level = apply_edit(aaba, Edit(bar, Fraction(beat), name, options))
    assert texts(aaba, level) == [expected]


def test_ids_name_the_symbols_on_both_sides(aaba):
    level = apply_edit(aaba, Edit(3, Fraction(1), "early"))
    (difference,) = compare(aaba, level)
    assert difference.lower_ids == (note_id(2, 0),)
    assert difference.upper_ids == (note_id(1, 3), note_id(2, 0))


def test_bars_that_only_one_level_has_are_said_once(aaba):
    shorter = type(aaba)(aaba.title, aaba.bars[:24])
    assert texts(shorter, aaba) == ["bars 25–32 are new"]
    assert texts(aaba, shorter) == ["bars 25–32 are left out"]


def test_equal_levels_have_no_differences(aaba):
    assert compare(aaba, aaba) == ()


def test_two_unlike_melodies_are_compared_without_end(build):
    one = build("|".join(["c d e f"] * 150) + "|]")
    other = build("|".join(["g/a/ b/c'/ b/a/ g/f/"] * 150) + "|]")
    pairs = aligned(sounds_of(one), sounds_of(other))
    assert sorted(i for i, _ in pairs if i is not None) == list(range(600))
    assert sorted(j for _, j in pairs if j is not None) == list(range(1200))


_GIVEN = {
    "chord": (("to", "A7"),),
    "chord quality": (("to", "7b9"),),
    "pitch": (("to", "F4"),),
    "note": (("to", "F5"),),
}
_CHORDS = frozenset(
    {"chord quality", "turnaround", "side-step", "chord", "secondary dominant"}
)


@st.composite
def random_edits(draw, tune):
    name = draw(st.sampled_from(sorted(OPERATIONS)))
    starts = bar_starts(tune)
    if OPERATIONS[name].needs_note:
        sound = draw(st.sampled_from(sounds_of(tune)))
        bar = int(sound.start // 4)
        beat = sound.start - starts[bar] + 1
    else:
        bar, beat = draw(st.integers(0, 31)), Fraction(draw(st.sampled_from([1, 2, 3])))
    return Edit(bar + 1, beat, name, _GIVEN.get(name, ()))


@given(data=st.data())
@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_any_edit_that_applies_leaves_valid_notation(aaba, data):
    tune = aaba
    for edit in data.draw(st.lists(random_edits(aaba), max_size=4)):
        tune, refused = apply_edits_reporting(tune, [edit])
        assert all(str(error).startswith(f"bar {edit.bar}: ") for error in refused)
        validate_tune(tune)
    compare(aaba, tune)


def test_the_comparison_recovers_nineteen_of_twenty_random_edits(aaba):
    """Goal of the comparison: 95 %, counted over one edit of each kind at each note."""
    found = total = 0
    spots = [(int(s.start // 4) + 1, s.start % 4 + 1) for s in sounds_of(aaba)][::8]
    for name, operation in OPERATIONS.items():
        for bar, beat in spots:
            edit = Edit(bar, beat, name, _GIVEN.get(name, ()))
            try:
                level = apply_edit(aaba, edit)
            except LevelError:
                continue
            if level == aaba:
                continue
            total += 1
            kinds = {d.kind for d in compare(aaba, level)}
            wanted = {name} | (_CHORDS if name in _CHORDS else set())
            found += bool(kinds & wanted) or operation.name in kinds
    assert total > 150
    assert found >= 0.95 * total, f"{found} of {total}"


def test_a_level_made_of_many_edits_is_told_edit_by_edit(aaba):
    edits = [
        Edit(3, Fraction(1), "early"),
        Edit(5, Fraction(1), "grace"),
        Edit(9, Fraction(1), "repeat"),
        Edit(14, Fraction(3), "tritone substitute"),
    ]
    assert [d.kind for d in compare(aaba, apply_edits(aaba, edits))] == [
        edit.do for edit in edits
    ]
