"""Drafts: sparing, musical, applicable, the same for a seed."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from kit.form.find import find_form
from kit.instruments.awkward import awkward
from kit.instruments.table import instrument
from kit.instruments.transposition import write_part
from kit.levels._limits import limits_of
from kit.levels._tally import longest_breath
from kit.levels.difficulty import difficulty
from kit.levels.draft import draft_edits
from kit.levels.edits import apply_edits, family_of
from kit.levels.idioms import idiom_named
from kit.levels.rewrite import sounds_of
from kit.levels.suggest import suggestions
from kit.levels.wishes import Terms
from kit.tune._validate import validate_tune
from kit.tune.pitch import Pitch


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
@pytest.mark.parametrize("seed", range(5))
def test_every_drafted_edit_applies(aaba, level, seed):
    edits = draft_edits(aaba, find_form(aaba), level=level, seed=seed)
    validate_tune(apply_edits(aaba, edits))
    assert 8 <= len(edits) <= 32
    assert len({edit.do for edit in edits}) >= 2


def test_the_same_seed_gives_the_same_draft_and_another_another(aaba):
    form = find_form(aaba)
    drafts = [draft_edits(aaba, form, level="advanced", seed=s) for s in (1, 1, 2)]
    assert drafts[0] == drafts[1] != drafts[2]


def test_phrase_ends_are_left_alone(aaba):
    form = find_form(aaba)
    ends = {aaba.bars[section.last].number for section in form.sections}
    for level in ("intermediate", "advanced"):
        for item in suggestions(aaba, form, level=level):
            assert item.edit.bar not in ends
            assert item.reason


@pytest.mark.parametrize("level", ["intermediate", "advanced"])
def test_a_level_does_the_same_in_every_a(aaba, level):
    edits = draft_edits(aaba, find_form(aaba), level=level, seed=1)
    bars = {edit.bar for edit in edits}
    for bar in bars & set(range(1, 8)):
        assert {bar + 8, bar + 24} <= bars


def test_a_count_bounds_the_draft(aaba):
    form = find_form(aaba)
    assert len(draft_edits(aaba, form, level="advanced", count=4)) <= 4
    assert draft_edits(aaba, form, level="advanced", count=0) == ()


@pytest.mark.parametrize(
    "options", [{"level": "beginner"}, {"level": "advanced", "count": -1}]
)
def test_misuse_is_a_value_error(aaba, options):
    with pytest.raises(ValueError, match=r"not 'beginner'|below zero"):
        draft_edits(aaba, find_form(aaba), **options)


def test_a_tune_with_repeats_and_a_pickup_can_be_drafted(build):
    body = 'g|:"C6"c2 e2|"G7"d2 f2|"C6"e2 g2|"G7"f4|"C6"c2 e2|"Am7"a2 c2|"G7"d4|"C6"c3 z:|'
    tune = build(body)
    from kit.tune.unfold import unfolded

    edits = draft_edits(tune, find_form(unfolded(tune)), level="advanced")
    assert edits
    validate_tune(apply_edits(tune, edits))


def test_an_advanced_draft_is_varied_and_has_new_harmony(aaba):
    edits = draft_edits(aaba, find_form(aaba), level="advanced")
    families = {family_of(edit.do) for edit in edits}
    assert {"rhythm", "harmony"} <= families
    assert len({edit.do for edit in edits}) >= 5


def test_a_draft_for_players_stays_in_their_range(aaba):
    players = [instrument("trumpet"), instrument("alto-sax")]
    edits = draft_edits(aaba, find_form(aaba), level="advanced", instruments=players)
    limits = limits_of(aaba, players, level="advanced", tempo_qpm=120)
    before, after = sounds_of(aaba), sounds_of(apply_edits(aaba, edits))
    heights = [{sound.pitch.midi for sound in sounds} for sounds in (before, after)]
    assert limits.allow(heights[1] - heights[0])
    assert longest_breath(after) <= limits.longest_breath(before)


LOW_AIR = (
    '"Bb"B,C2|"Bb"DF2|"Eb"GF2|"F7"C3|"Bb"B,C2|"Bb"DF2|"F7"EC2|"Bb"B,3|'
    '"Bb"DC2|"Gm"B,D2|"Eb"EG2|"F7"C3|"Bb"B,C2|"Bb"DF2|"F7"EC2|"Bb"B,3|'
)
"""Low on the trombone, where it goes from first position to sixth and seventh."""


def test_suggestions_know_the_way_of_the_slide(build):
    air = build(LOW_AIR, key="Bb", meter="3/4")

    def graces(slug):
        player = [instrument(slug)]
        found = suggestions(
            air, find_form(air), level="intermediate", bars=[10], instruments=player
        )
        return {item.edit for item in found if item.edit.do == "grace"}

    # From Bb2 to C3 the slide goes from first position to sixth.
    crossing = {
        edit
        for edit in graces("tenor-sax")
        if 3 in costs_of_graces(air, [edit], "trombone")
    }
    assert crossing
    assert not crossing & graces("trombone")


@pytest.mark.parametrize("key", ["Bb", "F", "C"])
def test_no_grace_note_of_a_trombone_lesson_lies_too_badly(build, key):
    air = build(LOW_AIR, key=key, meter="3/4")
    slugs = ("trombone", "tenor-sax")
    players = [instrument(slug) for slug in slugs]
    edits = draft_edits(air, find_form(air), level="intermediate", instruments=players)
    for slug in slugs:
        assert max(costs_of_graces(air, edits, slug), default=0) < 3


def costs_of_graces(tune, edits, slug):
    """Give the costs of the ways to grace notes and from them, as written."""
    player = instrument(slug)
    up = write_part(tune, player).interval
    for before, sound in pairwise(sounds_of(apply_edits(tune, edits))):
        way = [before.pitch, *(grace.pitch for grace in sound.graces), sound.pitch]
        for one, other in pairwise(way if sound.graces else ()):
            step = awkward(one + up, other + up, player)
            yield step.cost if step else 0


@pytest.mark.parametrize(("qpm", "joined"), [(60, True), (200, False)])
def test_a_long_way_of_the_slide_takes_its_time(build, qpm, joined):
    player = [instrument("trombone")]
    air = build(LOW_AIR, key="Bb", meter="3/4")
    limits = limits_of(air, player, level="advanced", tempo_qpm=qpm)
    # The part lies an octave below: from Bb2 to C3.
    first, sixth = Pitch.parse("Bb3"), Pitch.parse("C4")
    assert limits.joins(first, sixth)
    assert limits.joins(first, sixth, Fraction(1, 2)) == joined
    assert not limits.joins(first, sixth, Fraction(1, 4))
    assert not limits.joins(first, sixth, Fraction(0))


@pytest.mark.parametrize(("body", "known"), [("G/A/ A B c|", True), ("G A B c|", False)])
def test_a_grace_over_the_break_is_for_those_whose_tune_has_it(build, body, known):
    player = [instrument("clarinet")]
    limits = limits_of(build(body, key="Bb"), player, level="advanced", tempo_qpm=100)
    below, above = Pitch.parse("G4"), Pitch.parse("A4")
    assert limits.joins(below, above, Fraction(1, 4))
    assert limits.joins(below, above, Fraction(0)) == known


def test_a_first_note_that_is_folded_does_not_move_the_reach(build):
    tenor = instrument("tenor-sax")
    tune = build("C,,2 z2|" + "C D E F|G A B c|" * 4)
    part = write_part(tune, tenor)
    assert (0, 0) in part.moved
    limits = limits_of(tune, [tenor], level="advanced", tempo_qpm=100)
    reach = tenor.comfortable_range("advanced")
    assert limits.high == reach.high.midi - part.interval.semitones


@pytest.mark.parametrize("tempi", [(57, 71), (40, 44)])
def test_a_draft_is_harder_at_the_tempi_at_which_levels_are_played(build, tempi):
    hymn = build("c2 c2|d2 B2|c4|e2 e2|f2 d2|e4|g2 e2|d2 c2|d2 B2|c4|", key="C")
    form = find_form(hymn)
    terms = Terms(idiom_named("hymn"), 84, played_qpm=tempi)
    edits = draft_edits(hymn, form, level="intermediate", terms=terms)
    slower, own = tempi
    done = apply_edits(hymn, edits)
    assert difficulty(hymn, slower).overall < difficulty(done, own).overall
    assert difficulty(hymn, 84).overall < difficulty(done, 84).overall
