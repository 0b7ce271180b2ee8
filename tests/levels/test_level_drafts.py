"""Drafts: sparing, musical, applicable, the same for a seed."""

from __future__ import annotations

import pytest

from kit.form.find import find_form
from kit.instruments.table import instrument
from kit.levels._limits import limits_of
from kit.levels._tally import longest_breath
from kit.levels.draft import draft_edits
from kit.levels.edits import apply_edits, family_of
from kit.levels.rewrite import sounds_of
from kit.levels.suggest import suggestions
from kit.tune._validate import validate_tune


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
