"""Each edit does what its name says, or refuses with bar, reason and remedy."""

from __future__ import annotations

from fractions import Fraction

import pytest

from kit.errors import LevelError
from kit.levels.compare import compare
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit, apply_edits, apply_edits_reporting
from kit.levels.rewrite import sounds_of
from kit.tune._validate import validate_tune


def do(tune, bar, beat, name, **options):
    named = tuple((key.rstrip("_"), value) for key, value in options.items())
    changed = apply_edit(tune, Edit(bar, Fraction(beat), name, named))
    validate_tune(changed)
    return changed


def shown(bar):
    return " ".join(
        f"{note.pitch or 'r'}:{float(note.duration):g}{'~' if note.tied else ''}"
        for note in bar.notes
    )


def chords(tune):
    return "|".join(
        " ".join(f"{c.symbol}@{float(c.onset):g}" for c in bar.chords) for bar in tune.bars
    )


@pytest.fixture
def plain(build):
    return build('"C6"c2 e2|"Am7"a d c e|"D7"f2 z2|"G7"g4|"C6"c3 z|]')


def test_early_starts_in_the_bar_before_and_is_tied_over(plain):
    changed = do(plain, 2, 1, "early")
    assert shown(changed.bars[0]) == "C5:2 E5:1.5 A5:0.5~"
    assert shown(changed.bars[1]) == "A5:1 D5:1 C5:1 E5:1"


def test_early_takes_a_rest_first(plain):
    assert shown(do(plain, 4, 1, "early", by="quarter").bars[2]) == "F5:2 r:1 G5:1~"


def test_late_leaves_a_rest_or_is_waited_for(plain):
    assert shown(do(plain, 2, 1, "late").bars[1]).startswith("r:0.5 A5:0.5")
    held = do(plain, 1, 3, "late", gap="hold")
    assert shown(held.bars[0]) == "C5:2~ C5:0.5 E5:1.5"


@pytest.mark.parametrize(
    ("edit", "bar", "expected"),
    [
        ((3, 1, "lengthen", {"by": "quarter"}), 2, "F5:3 r:1"),
        ((1, 1, "shorten", {"by": "quarter"}), 0, "C5:1 r:1 E5:2"),
        ((1, 1, "repeat", {}), 0, "C5:1 C5:1 E5:2"),
        ((1, 1, "repeat", {"times": 4}), 0, "C5:0.5 C5:0.5 C5:0.5 C5:0.5 E5:2"),
        ((2, 2, "leave out", {}), 1, "A5:1 r:1 C5:1 E5:1"),
        ((1, 1, "passing note", {}), 0, "C5:1.5 D5:0.5 E5:2"),
        ((1, 1, "passing note", {"step": "chromatic"}), 0, "C5:1.5 D♯5:0.5 E5:2"),
        ((1, 1, "neighbour note", {}), 0, "C5:1 B4:0.5 C5:0.5 E5:2"),
        ((1, 3, "approach", {}), 0, "C5:1.5 D♯5:0.5 E5:2"),
        ((1, 3, "enclosure", {}), 0, "C5:1 F5:0.5 D♯5:0.5 E5:2"),
        ((1, 3, "octave up", {}), 0, "C5:2 E6:2"),
        ((1, 1, "octave down", {"notes": 2}), 0, "C4:2 E4:2"),
        ((1, 3, "pitch", {"to": "Eb5"}), 0, "C5:2 E♭5:2"),
        ((3, 3, "note", {"to": "A5", "by": "quarter"}), 2, "F5:2 A5:1 r:1"),
        ((3, 3, "fill", {}), 2, "F5:2 r:0.5 C5:0.5 D5:0.5 F♯5:0.5"),
        ((3, 3, "fill", {"with": "scale", "notes": 2}), 2, "F5:2 r:1 E5:0.5 F5:0.5"),
        ((2, 2, "displace", {"notes": 2}), 1, "A5:1 r:0.5 D5:0.5~ D5:0.5 C5:0.5 E5:1"),
        (
            (2, 1, "displace", {"notes": 1, "to": "earlier"}),
            1,
            "A5:0.5 r:0.5 D5:1 C5:1 E5:1",
        ),
    ],
)
def test_edits_of_the_melody(plain, edit, bar, expected):
    number, beat, name, options = edit
    assert shown(do(plain, number, beat, name, **options).bars[bar]) == expected


@pytest.mark.parametrize(
    ("options", "pitch"),
    [
        ({}, "D♯5"), ({"from_": "above"}, "F5"), ({"step": "scale"}, "D5"),
        ({"from_": "above", "step": "scale"}, "F5"),
    ],
)  # fmt: skip
def test_grace_notes_lie_a_step_away(plain, options, pitch):
    note = do(plain, 1, 3, "grace", **options).bars[0].notes[1]
    assert [str(g.pitch) for g in note.graces] == [pitch]
    assert note.graces[0].slash


def test_a_second_grace_note_makes_a_pair(plain):
    tune = do(plain, 1, 3, "grace", from_="above", step="scale")
    note = do(tune, 1, 3, "grace").bars[0].notes[1]
    assert [(str(g.pitch), g.slash) for g in note.graces] == [("F5", False), ("D♯5", False)]


@pytest.mark.parametrize(
    ("name", "mark"),
    [
        ("accent", "accent"), ("staccato", "staccato"), ("tenuto", "tenuto"),
        ("ghost", "ghost"), ("fall", "falloff"), ("scoop", "scoop"), ("doit", "doit"),
        ("turn", "turn"), ("mordent", "inverted-mordent"), ("trill", "trill-mark"),
    ],
)  # fmt: skip
def test_marks_carry_their_musicxml_names(plain, name, mark):
    tune = do(plain, 1, 3, name)
    assert mark in tune.bars[0].notes[1].marks
    with pytest.raises(LevelError, match="already"):
        do(tune, 1, 3, name)
    assert do(tune, 1, 3, "plain").bars == plain.bars


def test_a_fall_stands_at_the_end_of_a_tied_note(plain):
    tune = do(do(plain, 4, 1, "early"), 3, "9/2", "fall")
    assert tune.bars[2].notes[-1].marks == ()
    assert tune.bars[3].notes[0].marks == ("falloff",)


@pytest.mark.parametrize(
    ("edit", "expected"),
    [
        ((2, 1, "chord", {"to": "A7"}), "C6@0|A7@0|D7@0|G7@0|C6@0"),
        ((2, 3, "chord", {"to": "Ebm7b5"}), "C6@0|Am7@0 E♭m7♭5@2|D7@0|G7@0|C6@0"),
        ((3, 1, "secondary dominant", {}), "C6@0|Am7@0 A7@2|D7@0|G7@0|C6@0"),
        ((4, 1, "ii before V", {}), "C6@0|Am7@0|D7@0|Dm7@0 G7@2|C6@0"),
        ((4, 1, "tritone substitute", {}), "C6@0|Am7@0|D7@0|D♭7@0|C6@0"),
        ((4, 1, "turnaround", {}), "C6@0|Am7@0|D7@0|C6@0 A7@2|Dm7@0 G7@2"),
        ((4, 1, "side-step", {}), "C6@0|Am7@0|D7@0|G7@0 A♭7@1 G7@2|C6@0"),
    ],
)
def test_edits_of_the_changes(plain, edit, expected):
    number, beat, name, options = edit
    assert chords(do(plain, number, beat, name, **options)) == expected


def test_a_passing_diminished_chord_joins_a_whole_step(build):
    tune = build('"C6"c4|"Dm7"d4|"C6"c4|]')
    assert chords(do(tune, 2, 1, "passing diminished")) == "C6@0 C♯°7@2|Dm7@0|C6@0"
    assert chords(do(tune, 3, 1, "passing diminished")) == "C6@0|Dm7@0 D♭°7@2|C6@0"


def test_the_ii_before_a_minor_goal_is_half_diminished(aaba):
    changed = do(aaba, 8, 1, "ii before V")
    assert str(changed.bars[7].chords[0].symbol) == "Dm7♭5"


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        ((9, 1, "early", {}), "bar 9: there is no bar 9; the last bar is 5."),
        ((1, 1, "early", {}), "bar 1: there is no bar before this one"),
        ((1, 7, "accent", {}), "the bar has no beat 7; count beats from 1 in 4/4"),
        ((1, 2, "accent", {}), "no note starts on beat 2; notes start on beat 1, 3"),
        ((2, 2, "early", {"by": "quarter"}), "note before is only a quarter long"),
        ((2, 1, "late", {"by": "quarter"}), "cannot come a quarter late"),
        ((1, 1, "lengthen", {}), "no rest of an eighth after the note"),
        ((2, 1, "shorten", {"by": "half"}), "only a quarter long"),
        ((2, 1, "repeat", {"times": 8}), "too short to be struck 8 times"),
        ((4, 1, "passing note", {"by": "whole"}), r"no room|nothing lies between"),
        ((2, 2, "approach", {"by": "quarter"}), "no room for 1 of a quarter"),
        ((3, 3, "fill", {"notes": 16}), "no room for 16 notes"),
        ((1, 1, "note", {"to": "G5"}), "no rest of an eighth here"),
        ((3, 3, "note", {"to": "H5"}), "not a pitch"),
        ((3, 3, "note", {}), '"note" needs "to"; add to to the edit'),
        ((1, 1, "octave up", {"notes": 60}), "only 9 notes from here on"),
        ((1, 1, "tritone substitute", {}), "C6 is not a dominant seventh chord"),
        ((1, 3, "tritone substitute", {}), "no chord starts on beat 3"),
        ((1, 1, "chord", {"to": "H7"}), "H7"),
        ((4, 1, "passing diminished", {}), "do not lie a whole step apart"),
        ((1, 1, "erly", {}), 'there is no edit "erly"; did you mean "early"'),
        ((1, 1, "early", {"bye": "eighth"}), 'has no option "bye"; it takes by'),
        ((1, 1, "early", {"by": "eight"}), "'eight' is not one of whole"),
        ((1, 1, "repeat", {"times": 99}), "99 is not from 2 to 8"),
        ((1, 1, "repeat", {"times": "two"}), "not a whole number"),
        ((1, 1, "grace", {"from_": "left"}), "'left' is not one of below, above"),
    ],
)
def test_what_the_music_does_not_allow_is_refused_in_one_sentence(plain, edit, message):
    number, beat, name, options = edit
    with pytest.raises(LevelError, match=message) as caught:
        do(plain, number, beat, name, **options)
    assert str(caught.value).startswith(f"bar {number}: ")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    "body", ["c4|:d4|e4:|f4|]", "c4|:d4|[1e4:|[2f4|]", "c4|!segno!d4|e4|f4!D.S.!|]"]
)
def test_no_note_reaches_back_over_a_repeat_an_ending_or_a_jump(build, body):
    tune = build(body)
    refused = []
    for bar in tune.bars[1:]:
        _, errors = apply_edits_reporting(tune, [Edit(bar.number, Fraction(1), "early")])
        refused += [error.bar for error in errors]
    assert refused


def test_pickups_are_bar_0_and_their_beats_those_of_the_full_bar(build):
    tune = build("g|c2 e2|d4|]")
    assert shown(do(tune, 0, 4, "octave down").bars[0]) == "G4:1"
    assert shown(do(tune, 1, 1, "early").bars[0]) == "G5:0.5 C5:0.5~"
    with pytest.raises(LevelError, match="bar 0: the bar has no beat 1"):
        do(tune, 0, 1, "accent")


def test_beats_in_six_eight_are_eighths(build):
    tune = build("c3/2 d3/2|e3|]", meter="6/8")
    assert shown(do(tune, 1, 4, "octave up").bars[0]) == "C5:1.5 D6:1.5"


def test_edits_see_what_the_ones_before_have_left(plain):
    edits = [Edit(1, Fraction(3), "early"), Edit(1, Fraction(5, 2), "accent")]
    tune = apply_edits(plain, edits)
    assert "accent" in sounds_of(tune)[1].marks


def test_a_corrected_note_reaches_the_level(plain, build):
    edits = [Edit(1, Fraction(3), "grace"), Edit(2, Fraction(1), "early")]
    corrected = build('"C6"c2 f2|"Am7"a d c e|"D7"f2 z2|"G7"g4|"C6"c3 z|]')
    level = apply_edits(corrected, edits)
    assert str(level.bars[0].notes[1].graces[0].pitch) == "E5"


def test_edits_that_no_longer_apply_are_reported_with_their_file(plain):
    edits = [Edit(1, Fraction(2), "accent"), Edit(1, Fraction(3), "accent")]
    tune, errors = apply_edits_reporting(plain, edits, "levels/x.toml")
    assert [str(error)[:28] for error in errors] == ["levels/x.toml, bar 1: no not"]
    assert tune.bars[0].notes[1].marks == ("accent",)
    with pytest.raises(LevelError, match=r"levels/x.toml, bar 1"):
        apply_edits(plain, edits, "levels/x.toml")


def test_every_operation_is_described_and_has_a_difference_of_its_own():
    assert len(OPERATIONS) >= 30
    assert all(op.words and op.name == name for name, op in OPERATIONS.items())


def test_no_edit_changes_the_tune_it_is_given(plain):
    before = plain.bars
    do(plain, 2, 1, "early")
    assert plain.bars is before
    assert compare(plain, plain) == ()
