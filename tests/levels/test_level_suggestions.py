"""Suggestions: ranked, explained, within the players' means, and the same for a seed."""

from __future__ import annotations

from itertools import pairwise

import pytest

from kit.errors import LevelError
from kit.form.find import find_form
from kit.instruments.table import instrument
from kit.levels.clash import clashes
from kit.levels.edits import apply_edit, family_of
from kit.levels.rewrite import sounds_of
from kit.levels.suggest import suggestions
from kit.levels.wishes import TASTES, tastes
from kit.tune._validate import validate_tune

_KNOWN = {}


@pytest.fixture
def found(aaba):
    """All suggestions for the tune, worked out once."""
    if "advanced" not in _KNOWN:
        _KNOWN["advanced"] = suggestions(aaba, find_form(aaba), level="advanced")
    return _KNOWN["advanced"]


def test_every_suggestion_applies_and_clashes_with_nothing(aaba, found):
    before = clashes(aaba)
    for item in found[::3]:
        after = apply_edit(aaba, item.edit)
        validate_tune(after)
        assert clashes(after) <= before


def test_best_come_first_each_with_reason_and_effect(found):
    assert [item.rank for item in found] == sorted(
        (item.rank for item in found), reverse=True
    )
    for item in found:
        assert item.reason
        assert item.reason[0] in "ADEFGBC" or item.reason[0].islower()
        assert not item.reason.endswith(".")
        assert item.effect_words.startswith(("harder", "easier", "hardly", "as hard"))


def test_most_edits_of_an_advanced_level_make_their_bar_harder(found):
    melodic = [item for item in found if family_of(item.edit.do) != "harmony"]
    harder = sum(item.effect > 0 for item in melodic)
    assert harder > len(melodic) / 2
    assert all(item.effect == 0 for item in found if family_of(item.edit.do) == "harmony")


def test_bars_may_be_chosen(aaba):
    chosen = suggestions(aaba, find_form(aaba), level="advanced", bars={17, 18})
    assert {item.edit.bar for item in chosen} == {17, 18}


@pytest.mark.parametrize(
    ("taste", "families"),
    [
        ("rhythm", {"rhythm"}),
        ("ornaments", {"ornaments", "articulation"}),
        ("lines", {"pitches"}),
        ("harmony", {"harmony"}),
    ],
)
def test_a_taste_comes_first(aaba, taste, families):
    found = suggestions(aaba, find_form(aaba), level="advanced", taste=taste)
    wanted = [family_of(item.edit.do) in families for item in found]
    assert sum(wanted[:6]) >= min(4, sum(wanted))


def test_a_seed_shuffles_and_only_a_seed_does(aaba):
    form = find_form(aaba)
    one, same, other = (
        suggestions(aaba, form, level="intermediate", seed=seed) for seed in (1, 1, 2)
    )
    assert one == same
    assert one != other
    assert {item.edit for item in one} == {item.edit for item in other}


def test_nothing_is_suggested_beyond_a_players_range(build):
    tune = build('"C"c2 a2|"F"a4|"G7"g2 f2|"C"e4|"C"c4|]')
    form = find_form(tune)
    recorder = instrument("soprano-recorder")
    tops = []
    for players in ((), (recorder, instrument("trumpet"))):
        heights = [
            sound.pitch.midi
            for item in suggestions(tune, form, level="intermediate", instruments=players)
            for sound in sounds_of(apply_edit(tune, item.edit))
        ]
        tops.append((min(heights), max(heights)))
    assert tops[1][0] >= tops[0][0]
    assert tops[1][1] <= tops[0][1]


def test_the_only_place_to_breathe_is_left_alone(build):
    """At 60 a trumpeter's breath is shorter than these six bars without the rests."""
    tune = build("c d e f|g f e z|z z c d|e f g a|g f e d|c4|]")
    tune = type(tune)(tune.title, tune.bars, tempo_qpm=60)
    form = find_form(tune)

    def fills(*players):
        found = suggestions(tune, form, level="intermediate", instruments=players)
        return [item.edit for item in found if item.edit.do == "fill"]

    assert fills()
    for edit in fills(instrument("trumpet")):
        after = sounds_of(apply_edit(tune, edit))
        assert any(b.start > a.end for a, b in pairwise(after))


@pytest.mark.parametrize("options", [{"level": "beginner"}, {"taste": "spicy"}])
def test_a_choice_that_there_is_not_is_a_value_error(aaba, options):
    with pytest.raises(ValueError, match=r"not 'beginner'|balanced, rhythm"):
        suggestions(aaba, find_form(aaba), **{"level": "advanced", **options})


def test_tastes_are_those_of_the_table(aaba):
    assert set(tastes()) == set(TASTES)


def test_the_clash_check_finds_the_textbook_avoid_note(build):
    """The fourth over a major seventh chord on beat one; common practice."""
    assert clashes(build('"Cmaj7"f4|]')) == frozenset({(0, 77), (2, 77)})
    assert clashes(build('"Cmaj7"e f g2|"G7"_a4|"Dm7"g4|]')) == frozenset()
    with pytest.raises(LevelError):
        apply_edit(build("c4|]"), suggestions_edit())


def suggestions_edit():
    from fractions import Fraction

    from kit.levels.edit import Edit

    return Edit(9, Fraction(1), "accent")
