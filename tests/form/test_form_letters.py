"""Letters that name the form, and letters that only count."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.form.find import find_form, form_disagreement, form_proposals
from kit.tune.unfold import unfolded


def test_letters_that_count_over_music_that_returns_are_an_alternative(aaba, marked):
    """A A B C, and C is A: what a program sets at double bars."""
    proposals = form_proposals(marked(aaba, {0: "A", 8: "A", 16: "B", 24: "C"}))
    assert [one.form.pattern for one in proposals] == ["AABA", "AABC"]
    first, second = (one.reason for one in proposals)
    assert "only count: bars 25–32 are marked C" in first
    assert "the music of A (bars 1–8)" in first
    assert "A, B and C" in second


def test_letters_of_a_form_are_taken_at_their_word(aaba, marked):
    for marks in ({0: "A", 8: "A", 16: "B", 24: "A"}, {0: "A", 16: "B"}):
        (only,) = form_proposals(marked(aaba, marks))
        assert only.form.source == "marks"
        assert only.reason == "The file marks its sections."


def test_words_never_only_count(aaba, marked):
    words = {0: "Verse", 8: "Chorus", 16: "Bridge", 24: "Outro"}
    assert find_form(marked(aaba, words)).labels == ("Verse", "Chorus", "Bridge", "Outro")


def test_letters_that_come_back_do_not_count(aaba, marked):
    form = find_form(marked(aaba, {0: "A", 8: "B", 16: "A", 24: "B"}))
    assert form.pattern == "ABAB"


def test_a_letter_on_both_passes_of_a_repeat_is_one_letter(aaba, marked):
    bars = list(aaba.bars[:8] + aaba.bars[16:])
    bars[7] = replace(bars[7], repeat_times=2)
    bars = [replace(bar, number=k) for k, bar in enumerate(bars, start=1)]
    written = marked(replace(aaba, bars=tuple(bars)), {0: "A", 8: "B", 16: "C"})
    proposals = form_proposals(unfolded(written))
    assert [one.form.pattern for one in proposals] == ["AABA", "AABC"]


def test_letters_by_the_number_of_bars_are_told(aaba, marked):
    """Every five bars a letter: seven of them over a form of four sections."""
    marks = dict(zip(range(0, 32, 5), "ABCDEFG", strict=True))
    proposals = form_proposals(marked(aaba, marks))
    assert [one.form.pattern for one in proposals] == ["AABA", "ABCDEFG"]
    assert "they stand every 5 bars" in proposals[0].reason


@pytest.mark.parametrize("marks", [{}, {0: "A", 8: "A", 16: "B", 24: "A"}])
def test_a_plain_file_has_one_proposal_with_a_reason(aaba, marked, marks):
    (only,) = form_proposals(marked(aaba, marks))
    assert only.form.pattern == "AABA"
    assert only.reason.endswith(".")


def test_a_lifted_last_round_is_no_disagreement(aaba, marked):
    from kit.tune.model import transposed
    from kit.tune.pitch import Interval

    up = transposed(replace(aaba, bars=aaba.bars[24:]), Interval.parse("m2")).bars
    lifted = marked(
        replace(aaba, bars=aaba.bars[:24] + up), {0: "A", 8: "A", 16: "B", 24: "A"}
    )
    assert form_disagreement(lifted, find_form(lifted)) is None
