"""What students read about keys is true, cannot be misread, and doubt is said as doubt."""

from __future__ import annotations

import pytest

from kit.form.facts import form_facts
from kit.form.ranges import form_from_ranges
from kit.form.sections import Form, Section
from kit.tune.unfold import unfolded

KEYS = ("major", "minor", "dorian", "mixolydian", "chain")


@pytest.fixture
def facts_of(chart):
    """Facts of sections given as label and changes."""

    def of(key, **sections):
        tune = chart("|".join(sections.values()), key)
        found, start = [], 0
        for name, text in sections.items():
            count = len(text.split("|"))
            found.append(Section(name[0], start, start + count - 1))
            start += count
        return form_facts(tune, Form(tuple(found)))

    return of


def about_keys(facts):
    """The sentences that name a key, those on cadences left out."""
    return [
        sentence
        for sentence in facts.sentences
        if any(word in sentence for word in KEYS) and not sentence.startswith("A ")
    ]


HOME = "C6|Am7|Dm7|G7|C6|Am7|Dm7 G7|C6"


def test_a_tune_in_one_key_stays_there(facts_of):
    assert about_keys(facts_of("C", A=HOME)) == ["The tune stays in C major throughout."]


def test_sections_are_the_subject_of_their_own_verb(facts_of):
    facts = facts_of("C", A=HOME, B="Gm7|C7|Fmaj7|Fmaj7|Gm7|C7|F6|F6", C=HOME)
    assert about_keys(facts) == [
        "Sections A and C are in C major; section B is in F major."
    ]
    assert facts.key_words == ("C major", "F major", "C major")


def test_a_section_may_move_from_one_key_to_another(facts_of):
    facts = facts_of("C", A=HOME, B="Gm7|C7|Fmaj7|Fmaj7|Am7|D7|Gmaj7|Gmaj7")
    assert about_keys(facts) == [
        "Section A is in C major; section B moves from F major to G major."
    ]
    assert facts.key_words[1] == "from F major to G major"


def test_a_tune_may_move_through_many_keys(facts_of):
    text = "Fm7|Bb7|Ebmaj7|Ebmaj7|C#m7|F#7|Bmaj7|Bmaj7|Bbm7|Eb7|Abmaj7|Abmaj7|F#m7|B7|E6|E6"
    assert about_keys(facts_of("Eb", A=text)) == [
        "The tune moves through E♭ major, B major, A♭ major and E major."
    ]


def test_a_tune_may_come_back(facts_of):
    there = "Gmaj7|Gmaj7|Am7|D7|Gmaj7|Gm7 C7|Fmaj7|Gm7 C7|Fmaj7|Am7 D7|Gmaj7|Gmaj7"
    assert about_keys(facts_of("G", A=there)) == [
        "The tune moves from G major to F major and back."
    ]


def test_a_tune_may_go_round(facts_of):
    there = "Ebmaj7|Ebmaj7|F#7|F#7|Bmaj7|Bmaj7|D7|D7|Gmaj7|Gmaj7|Bb7|Bb7"
    assert about_keys(facts_of("Eb", A=f"{there}|Eb6|Eb6")) == [
        "The tune moves through E♭ major, B major and G major and back to E♭ major."
    ]
    twice = f"{there}|{there}|Eb6|Eb6"
    assert about_keys(facts_of("Eb", A=twice)) == [
        "The tune moves through E♭ major, B major and G major, not only once."
    ]


def test_a_tune_may_go_back_and_forth(facts_of):
    home, there = "G6|Am7|D7|G6", "Fm7|Bb7|Ebmaj7|Ebmaj7"
    assert about_keys(facts_of("G", A="|".join((home, there, home, there)))) == [
        "The tune moves back and forth between G major and E♭ major."
    ]


def test_a_link_of_a_chain_is_named_once(facts_of):
    (said,) = about_keys(facts_of("Bb", A="D9|D7|G13|G7|C7|C7|F7sus4|F7"))
    assert "(D9 G13 C7 F7sus4)" in said


def test_a_chain_of_dominants_is_said_as_one(facts_of):
    home = "Bb|Gm7|Cm7|F7|Bb|Gm7|Cm7 F7|Bb"
    facts = facts_of("Bb", A=home, B="D7|D7|G7|G7|C7|C7|F7|F7", A2=home)
    assert about_keys(facts) == [
        "Section A is in B♭ major; section B is a chain of dominants (D7 G7 C7 F7): each "
        "leads to the next, the last one home to B♭."
    ]
    assert facts.key_words[1] == "chain of dominants"
    assert str(facts.keys[1]) == "B♭ major"


def test_a_declared_mode_is_named(facts_of):
    assert about_keys(facts_of("Ador", A="Am7|D7|Am7|D7|Am7|D7|Am7|Am7")) == [
        "The tune stays in A dorian throughout."
    ]


def test_doubt_is_said_as_doubt(facts_of):
    facts = facts_of("C", A=HOME, B="Em7|A7|Em7|A7")
    assert about_keys(facts) == [
        "Section A is in C major; section B seems to be in E dorian."
    ]
    assert facts.key_words[1] == ""


def test_turns_are_told_apart_where_a_label_comes_in_two_keys(facts_of):
    facts = facts_of("C", A=HOME, A2="F6|Dm7|Gm7|C7|F6|Dm7|Gm7 C7|F6")
    assert about_keys(facts) == [
        "Section A (first time) is in C major; section A (second time) is in F major."
    ]


@pytest.mark.parametrize(
    "text",
    [
        "C6|C6|C6|C6",
        "N.C.|N.C.|N.C.|N.C.",
        "Cmaj7|Ebmaj7|Gbmaj7|Amaj7",
        "C7|Eb7|Gb7|A7",
        "C|D|E|F#",
        "C5|Bbsus2|C5|G5",
    ],
)
def test_without_a_cadence_no_key_is_named(facts_of, text):
    facts = facts_of("C", A=text)
    assert about_keys(facts) == []
    assert facts.key_words == ("",)


def test_a_section_that_says_nothing_is_left_out(facts_of):
    facts = facts_of("C", A=HOME, B="Bmaj7|Dmaj7|Fmaj7|Abmaj7")
    assert about_keys(facts) == ["Section A is in C major."]


def test_a_melody_alone_must_bear_its_signature_out(build):
    form = [{"label": "A", "bars": "1-4"}]
    ends = build("G A B c|d c B A|G B A F|G4|]", "G")
    wanders = build("^c ^d ^f ^g|^a ^g ^f ^d|^c ^f ^d ^a|^g4|]", "G")
    assert about_keys(form_facts(ends, form_from_ranges(ends, form))) == [
        "The tune is in G major."
    ]
    assert about_keys(form_facts(wanders, form_from_ranges(wanders, form))) == []
    level = build("C ^C D ^D|E F ^F G|^G A ^A B|z4|]", "G")
    assert about_keys(form_facts(level, form_from_ranges(level, form))) == []


def test_written_key_changes_of_a_melody_are_told(build):
    tune = unfolded(build("C D E F|G F E D|[K:D]D E F G|D4|]"))
    form = form_from_ranges(tune, [{"label": "A", "bars": "1-4"}])
    assert about_keys(form_facts(tune, form)) == [
        "The tune begins in C major and changes to D major in bar 3."
    ]
