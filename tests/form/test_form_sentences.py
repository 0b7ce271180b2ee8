"""What a student reads about a form is true, and plain English."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from kit.form.facts import form_facts
from kit.form.find import find_form
from kit.form.names import form_name
from kit.form.ranges import form_from_ranges
from kit.form.wording import bars_words
from kit.tune.abc.read import read_abc
from kit.tune.unfold import unfolded

BOOK = Path(__file__).with_name("song_forms.abc").read_text(encoding="utf-8")
TUNES = {
    re.search(r"^T:(.*)$", text, re.MULTILINE)[1]: text
    for text in re.split(r"\n(?=X:)", BOOK[BOOK.index("X:1") :])
}


def known(title):
    played = unfolded(read_abc(TUNES[title], source="song_forms.abc"))
    form = find_form(played)
    return form_name(played, form), form_facts(played, form).sentences


EXPECTED = {
    "Blues": (
        "12-bar blues",
        "The form is a 12-bar blues: three lines of four bars.",
        "The changes start at home on F7, go to the fourth, B♭7, in bar 5, are home again "
        "in bar 7, and the last line (Gm7 C7 F7) leads home from bar 9.",
    ),
    "AAB": (
        "AAB, 24 bars",
        "The form is AAB: three sections of 8 bars, 24 bars in all.",
        "Learn the A section and you know 16 of the 24 bars: two thirds of the tune.",
        "The second A is exactly like the first.",
    ),
    "ABAC": (
        "32-bar song form, ABAC",
        "The form is ABAC: four sections of 8 bars, 32 bars in all.",
        "Sections A and C are in C major; section B moves from F major to C major.",
        "A ii–V–I to F major (Gm7 C7 F) starts in bar 9.",
    ),
    "Sixteen bars": (
        "AB, 16 bars",
        "The form is AB: two sections of 8 bars, 16 bars in all.",
        "The end of B (bars 13–16) is the end of A (bars 5–8).",
        "The tune stays in D major throughout.",
    ),
    "Verse and refrain": (
        "verse and refrain, 16 bars",
        "The form is verse and refrain, AB: two sections of 8 bars, 16 bars in all.",
        "Only 11 of the 16 bars are new; the others come back note for note with the same "
        "chords.",
    ),
}


@pytest.mark.parametrize("title", TUNES)
def test_name_and_sentences(title):
    name, sentences = known(title)
    assert name == EXPECTED[title][0]
    assert set(EXPECTED[title][1:]) <= set(sentences)


@pytest.mark.parametrize("title", TUNES)
def test_every_sentence_is_one_and_none_says_nothing(title):
    for sentence in known(title)[1]:
        assert re.fullmatch(r"[A-Z0-9][^\n]*[^.\s]\.", sentence)
        assert "  " not in sentence
        assert not re.search(r"\b0 |\bno times|bar 0\b|\b1 bars|b\d|None", sentence)


def test_four_by_four_bars_are_a_16_bar_song_form(aaba):
    """Common practice: a song form may have half the usual length."""
    from dataclasses import replace

    bars = [aaba.bars[k] for k in (0, 1, 2, 3) * 2 + (16, 17, 18, 19) + (0, 1, 2, 3)]
    short = replace(
        aaba, bars=tuple(replace(bar, number=k) for k, bar in enumerate(bars, start=1))
    )
    assert form_name(short, find_form(short)) == "16-bar song form, AABA"


def test_labels_name_verse_and_refrain(aaba):
    ranges = [{"label": "Verse", "bars": "1-16"}, {"label": "Refrain", "bars": "17-32"}]
    form = form_from_ranges(aaba, ranges)
    assert form_name(aaba, form) == "verse and refrain, 32 bars"
    first = form_facts(aaba, form).sentences[0]
    assert first == (
        "The form is verse and refrain: two sections of 16 bars, 32 bars in all."
    )


def test_a_changed_octave_is_said_as_one(aaba):
    from dataclasses import replace

    from kit.tune.model import transposed
    from kit.tune.pitch import Interval

    up = transposed(replace(aaba, bars=aaba.bars[2:3]), Interval(7, 12)).bars[0]
    bars = list(aaba.bars)
    bars[10] = replace(bars[10], notes=up.notes)
    varied = replace(aaba, bars=tuple(bars))
    sentences = form_facts(varied, find_form(varied)).sentences
    assert any("bar 11 is an octave higher" in sentence for sentence in sentences)


def test_a_pickup_is_called_one():
    assert bars_words([0]) == "the pick-up"
    assert bars_words([0, 1, 2, 3]) == "the pick-up and bars 1–3"
