"""What follows from the ledger: terms, unknowns, the credit line, the advice."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kit.rights._terms import term_in, terms
from kit.rights.advice import REMINDER, advice, rights_words
from kit.rights.countries import countries, country
from kit.rights.ledger import Person, Rights, Work, credit_line

TODAY = date(2026, 11, 25)
OLD_SONG = Rights("public domain", composers=(Person("A. Smith", 1940),), published=1920)
LATE_DEATH = Rights("public domain", composers=(Person("A. Smith", 1970),), published=1920)


def test_the_usual_countries_are_looked_at_unless_others_are_named():
    assert [term.country.code for term in terms(OLD_SONG, TODAY)] == ["US", "EU", "UK"]
    named = Rights(published=1920, composers=(Person("A", 1940),), countries=("FR",))
    assert [term.country.name for term in terms(named, TODAY)] == ["France"]


def test_every_member_state_follows_the_unions_rule():
    members = [known for code, known in countries().items() if len(code) == 2]
    assert sum(known.rule == countries()["EU"].rule for known in members) == 27 + 3
    assert country("gb") == country("UK")


def test_a_country_that_is_not_known_is_refused():
    with pytest.raises(ValueError, match='terms of "XX" are not known'):
        country("XX")


def test_a_living_author_leaves_the_term_unknown_outside_the_american_rule():
    alive = Rights(composers=(Person("A. Smith"),), published=1950)
    assert term_in("EU", alive, TODAY).status == "unknown"
    assert term_in("US", alive, TODAY).until == 2045


def test_without_a_year_nothing_is_guessed():
    for code in ("US", "EU"):
        assert term_in(code, Rights(), TODAY).status == "unknown"
        assert term_in(code, Rights(anonymous=True), TODAY).status == "unknown"


def test_an_arrangement_has_a_term_of_its_own_and_the_longest_counts():
    work = Work("the arrangement by B. Jones", (Person("B. Jones", 1990),), 1960)
    arranged = Rights(composers=OLD_SONG.composers, published=1920, arrangements=(work,))
    assert term_in("EU", arranged, TODAY).until == 2060
    assert term_in("US", arranged, TODAY).until == 2055
    assert "the arrangement by B. Jones: published 1960" in str(
        term_in("US", arranged, TODAY)
    )


def test_a_protected_part_outweighs_an_unknown_one():
    rights = Rights(
        composers=(Person("A", 2000),), arrangements=(Work("the arrangement by B"),)
    )
    assert term_in("EU", rights, TODAY).status == "protected"


years = st.integers(1850, 2026)


@given(published=years, died=years, day=st.dates(date(1900, 1, 1), date(2200, 12, 31)))
def test_a_work_is_never_protected_again_and_ends_with_a_year(published, died, day):
    rights = Rights(composers=(Person("A", died),), published=published)
    for code in ("US", "EU"):
        now = term_in(code, rights, day)
        later = term_in(code, rights, date(day.year + 1, 1, 1))
        same_year = term_in(code, rights, date(day.year, 12, 31))
        assert now.status == same_year.status
        assert (now.status, later.status) != ("free", "protected")
        assert now.until == later.until


@given(died=st.lists(years, min_size=1, max_size=4))
def test_the_last_author_decides(died):
    rights = Rights(composers=tuple(Person(str(year), year) for year in died))
    assert term_in("UK", rights, TODAY).until == max(died) + 70


def told(rights, *, gives_away=True):
    return [
        (item.severity, item.code) for item in advice(rights, TODAY, gives_away=gives_away)
    ]


def test_no_basis_stops_only_what_is_given_away():
    assert told(Rights()) == [("error", "no-rights")]
    assert told(Rights(), gives_away=False) == [("warning", "no-rights")]


def test_own_work_needs_no_years():
    assert told(Rights("own work")) == []


def test_a_licence_that_is_not_quoted_is_a_warning():
    assert told(Rights("licensed")) == [("warning", "no-licence")]
    assert told(Rights("permission", licence="by letter, 3 May 2026")) == []


def test_public_domain_everywhere_is_nothing_to_say():
    assert told(OLD_SONG) == []


def test_public_domain_that_the_years_deny_everywhere_stops_the_build():
    new = Rights("public domain", composers=(Person("A", 1990),), published=1960)
    assert told(new) == [("error", "rights-contradict")]
    (item,) = advice(new, TODAY, gives_away=True)
    assert "protected in the United States to the end of 2055" in item.text
    assert "not legal advice" in item.remedy


def test_countries_that_differ_are_a_warning_until_a_claimed_one_is_denied():
    assert told(LATE_DEATH) == [("warning", "rights-differ")]
    (item,) = advice(LATE_DEATH, TODAY, gives_away=True)
    assert "protected in the European Union to the end of 2040" in item.text
    assert "in the public domain in the United States since 1 January 2016" in item.text
    there = Rights("public domain", composers=LATE_DEATH.composers, published=1920,
                   countries=("US",))  # fmt: skip
    assert told(there) == []
    denied = Rights("public domain", composers=LATE_DEATH.composers, published=1920,
                    countries=("US", "DE"))  # fmt: skip
    assert told(denied) == [("error", "rights-contradict")]


def test_public_domain_without_years_is_a_warning_that_says_what_is_missing():
    assert told(Rights("public domain")) == [("warning", "rights-unknown")]
    (item,) = advice(Rights("public domain"), TODAY, gives_away=True)
    assert "who made the tune is missing" in item.text


def test_the_credit_line_names_everyone_and_the_basis():
    rights = Rights(
        "public domain",
        composers=(Person("A. Smith", 1940),),
        lyricists=(Person("B. Jones"),),
        published=1920,
    )
    assert credit_line(rights) == (
        "Music: A. Smith († 1940). Words: B. Jones. First published 1920. Public domain."
    )
    assert credit_line(Rights("own work")) == ""
    assert (
        credit_line(Rights("licensed", composers=(Person("A"),), licence="CC BY 4.0."))
        == "Music: A. CC BY 4.0."
    )


def test_the_words_end_with_the_reminder():
    words = rights_words(OLD_SONG, TODAY)
    assert words[0] == "Stated basis: public domain."
    assert len(words) == 1 + 3 + 1
    assert words[-1] == REMINDER
    assert rights_words(Rights("own work"), TODAY) == ("Stated basis: own work.", REMINDER)
