"""What the facts count and say."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from kit.form.facts import form_facts
from kit.form.find import find_form
from kit.form.sections import Form
from kit.form.wording import bars_words, ordinal, share_words
from kit.tune.abc.read import read_abc
from kit.tune.model import transposed
from kit.tune.pitch import Interval


@pytest.fixture
def facts(aaba):
    return form_facts(aaba, find_form(aaba))


def test_whoever_knows_the_a_section_knows_three_quarters(facts):
    """Common practice: 24 of the 32 bars of an AABA."""
    share = facts.shares[0]
    assert (share.label, share.bars, share.of, share.fraction) == (
        "A",
        24,
        32,
        Fraction(3, 4),
    )
    assert (
        "Learn the A section and you know 24 of the 32 bars: three quarters of the tune."
        in facts.sentences
    )


def test_different_bars_are_counted_once(facts, aaba):
    doubled = replace(aaba, bars=aaba.bars + aaba.bars)
    again = form_facts(doubled, find_form(doubled))
    assert again.different_bars == facts.different_bars
    assert again.bar_count == 64


def test_differing_bars_are_named_with_what_differs(facts):
    assert [item.number for item in facts.differences] == [16, 32]
    assert any(
        "The second A differs from the first only in bar 16" in s
        and "Cm6 instead of G7" in s
        for s in facts.sentences
    )


def test_a_changed_note_in_a_repeat_changes_the_sentence(aaba):
    bars = list(aaba.bars)
    bars[15] = replace(bars[7], number=16)
    same = replace(aaba, bars=tuple(bars))
    facts = form_facts(same, find_form(same))
    assert "The second A is exactly like the first." in facts.sentences


def test_key_centres_follow_the_changes(facts):
    assert [str(key) for key in facts.keys] == ["C minor", "C minor", "E♭ major", "C minor"]


def test_sentences_speak_in_the_written_key(aaba):
    written = transposed(aaba, Interval.parse("M6"))
    sentences = " ".join(form_facts(written, find_form(written)).sentences)
    assert "A minor" in sentences
    assert "Bm7♭5 E7 Am6" in sentences
    assert "C minor" not in sentences


def test_a_moved_section_is_recognised(aaba):
    up = transposed(replace(aaba, bars=aaba.bars[:8]), Interval.parse("M2"))
    bars = aaba.bars[:16] + up.bars + aaba.bars[24:]
    moved = replace(
        aaba, bars=tuple(replace(b, number=k) for k, b in enumerate(bars, start=1))
    )
    form = find_form(moved)
    assert form.pattern == "AABA"
    assert (
        "B is the melody of A moved a whole step up." in form_facts(moved, form).sentences
    )


def test_no_sections_is_a_programmers_mistake(aaba):
    with pytest.raises(ValueError, match="at least one section"):
        form_facts(aaba, Form(()))


def test_a_tune_without_changes_still_has_facts(aaba):
    plain = replace(aaba, bars=tuple(replace(b, chords=()) for b in aaba.bars))
    facts = form_facts(plain, find_form(plain))
    assert facts.cadences == ()
    assert "The tune is in C minor." in facts.sentences


def test_words_for_counts():
    assert bars_words([5]) == "bar 5"
    assert bars_words([1, 2]) == "bars 1 and 2"
    assert [ordinal(n) for n in (2, 13, 22, 111)] == ["second", "13th", "22nd", "111th"]
    assert share_words(8, 32) == "a quarter"


def clapped(body: str, meter: str = "4/4") -> list[str]:
    text = f"X:1\nT:t\nM:{meter}\nL:1/4\nK:C\n{body}"
    tune = read_abc(text, source="t.abc")
    sentences = form_facts(tune, find_form(tune)).sentences
    return [sentence for sentence in sentences if "worth clapping" in sentence]


def test_a_rhythm_off_the_beat_is_worth_clapping():
    (sentence,) = clapped("c> d e f|d> e f g|e> f g a|c4|]")
    assert sentence == (
        "The rhythm of bar 1 is worth clapping first: it comes back in bars 2 and 3."
    )
    assert clapped("c d/e/ f|d e/f/ g|e f/g/ a|c3|]", "3/4")
    assert clapped("c d/ e f/|d e/ f g/|e f/ g a/|c3|]", "6/8")


@pytest.mark.parametrize(
    ("body", "meter"),
    [
        ("c d e f|d e f g|e f g a|c4|]", "4/4"),
        ("c2 d e|d2 e f|e2 f g|c4|]", "4/4"),
        ("c2 d e|d2 e f|e2 f g|c4|]", "2/2"),
        ("c/d/e/f/ g/a/b/c/|d/e/f/g/ a/b/c/d/|e/f/g/a/ b/c/d/e/|c4|]", "4/4"),
        ("c/d/e/ f/g/a/|d/e/f/ g/a/b/|e/f/g/ a/b/c/|c3|]", "6/8"),
        ("c d e|d e f|e f g|c3|]", "3/4"),
    ],
)
def test_plain_quarters_and_even_rows_are_not(body, meter):
    assert clapped(body, meter) == []
