"""Repeats, endings and jumps, played out."""

from fractions import Fraction

import pytest

from kit.errors import NotationError
from kit.tune.model import Bar, Note, Tune
from kit.tune.unfold import playing_order, unfolded

REST = (Note(Fraction(0), Fraction(4), None),)


def tune(*signs):
    """Make a tune of one bar for each dict of signs."""
    bars = tuple(Bar(number, REST, **sign) for number, sign in enumerate(signs, start=1))
    return Tune("", bars, source="signs.musicxml")


def numbers(score):
    return [score.bars[index].number for index in playing_order(score)]


PLAIN = {}
OPEN = {"repeat_start": True}
CLOSE = {"repeat_times": 2}


def test_without_signs_the_page_is_read_once():
    assert numbers(tune(PLAIN, PLAIN, PLAIN)) == [1, 2, 3]


def test_a_closing_repeat_alone_goes_back_to_the_start():
    assert numbers(tune(PLAIN, CLOSE, PLAIN)) == [1, 2, 1, 2, 3]


def test_a_second_closing_repeat_goes_back_to_the_first():
    assert numbers(tune(PLAIN, CLOSE, PLAIN, CLOSE)) == [1, 2, 1, 2, 3, 4, 3, 4]


def test_a_passage_is_played_as_often_as_its_sign_says():
    assert numbers(tune(PLAIN, OPEN | {"repeat_times": 3})) == [1, 2, 2, 2]


def test_endings_are_chosen_by_the_pass():
    first = {"endings": (1,), "repeat_times": 2}
    second = {"endings": (2,)}
    assert numbers(tune(PLAIN, first, second, PLAIN)) == [1, 2, 1, 3, 4]


def test_three_endings_need_no_times():
    score = tune(
        OPEN,
        {"endings": (1, 2), "repeat_times": 2},
        {"endings": (3,)},
        PLAIN,
    )
    assert numbers(score) == [1, 2, 1, 2, 1, 3, 4]


def test_a_repeat_after_endings_starts_its_own_count():
    score = tune(
        PLAIN, {"endings": (1,), "repeat_times": 2}, {"endings": (2,)}, OPEN, CLOSE
    )
    assert numbers(score) == [1, 2, 1, 3, 4, 5, 4, 5]


def test_repeats_can_be_nested():
    score = tune(OPEN, OPEN, CLOSE, CLOSE)
    assert numbers(score) == [1, 2, 3, 2, 3, 4, 1, 2, 3, 2, 3, 4]


def test_da_capo_al_fine_takes_no_repeats_and_stops_at_fine():
    score = tune(
        PLAIN, {"repeat_times": 2, "jumps": ("fine",)}, {"jumps": ("D.C. al fine",)}
    )
    assert numbers(score) == [1, 2, 1, 2, 3, 1, 2]


def test_dal_segno_al_coda_leaves_at_the_sign():
    score = tune(
        PLAIN,
        {"jumps": ("segno",)},
        {"jumps": ("to coda",)},
        {"jumps": ("D.S. al coda",)},
        {"jumps": ("coda",)},
    )
    assert numbers(score) == [1, 2, 3, 4, 2, 3, 5]


def test_after_a_jump_the_last_ending_is_taken():
    score = tune(
        OPEN,
        {"endings": (1,), "repeat_times": 2},
        {"endings": (2,), "jumps": ("fine",)},
        {"jumps": ("D.C. al fine",)},
    )
    assert numbers(score) == [1, 2, 1, 3, 4, 1, 3]


def test_a_jump_to_a_missing_sign_names_the_bar():
    with pytest.raises(NotationError, match=r"signs\.musicxml, bar 2: .*segno"):
        playing_order(tune(PLAIN, {"jumps": ("D.S.",)}))


def test_unfolded_bars_keep_their_numbers_and_lose_their_signs():
    played = unfolded(tune(PLAIN, CLOSE))
    assert [bar.number for bar in played.bars] == [1, 2, 1, 2]
    assert not any(bar.repeat_times for bar in played.bars)


def test_signs_without_end_are_refused():
    with pytest.raises(NotationError, match="played for more than 1000 bars"):
        playing_order(tune(OPEN | {"repeat_times": 9999}))
