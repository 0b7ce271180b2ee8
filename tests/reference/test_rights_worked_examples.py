"""Terms of protection against examples that the authorities themselves worked out.

Sources, each named at its row:

* U.S. Copyright Office, Circular 15T, "Extension of Copyright Terms", the first two EXAMPLE
  paragraphs.
* P. B. Hirtle, "Copyright Term and the Public Domain in the United States" (Cornell
  University), notes on the end of the calendar year, and the rows for works published from
  1978.
* UK Intellectual Property Office, guidance on the Copyright and Duration of Rights in
  Performances Regulations 2013, the opera example; PRS for Music, "UK legislation change
  for co-written works" (2013), the song example.
* Directive 2006/116/EC, articles 1(3) and 8, as summed up by eubusiness.com: 70 years from
  the date an anonymous work was made available, counted from the following 1 January.
"""

from datetime import date

import pytest

from kit.rights._terms import term_in
from kit.rights.ledger import Person, Rights

# country, ledger, last protected year, source
EXAMPLES = [
    ("US", Rights(published=1923), 2018, "Circular 15T: 10 April 1923"),
    ("US", Rights(published=1950), 2045, "Circular 15T: 29 July 1950, renewed 1977"),
    (
        "US",
        Rights(published=1978, composers=(Person("A", 1978),)),
        2048,
        "Hirtle: created and published from 1978 on, 2049 at the earliest",
    ),
    (
        "US",
        Rights(published=1985, composers=(Person("A", 1900),)),
        2047,
        "Hirtle: created before 1978, published until 2002: life and 70 or 2047",
    ),
    (
        "UK",
        Rights(composers=(Person("Dvořák", 1904),), lyricists=(Person("Kvapil", 1950),)),
        2020,
        "UK IPO: the opera of 1901",
    ),
    (
        "UK",
        Rights(composers=(Person("A", 1933),), lyricists=(Person("B", 1955),)),
        2025,
        "PRS: a song, composer and lyricist",
    ),
    ("EU", Rights(published=1900, anonymous=True), 1970, "Directive, article 1(3)"),
    ("DE", Rights(composers=(Person("A", 1933),)), 2003, "PRS: the music by itself"),
]


@pytest.mark.parametrize(("country", "rights", "until", "source"), EXAMPLES)
def test_the_term_ends_when_the_authority_says(country, rights, until, source):
    last_day = term_in(country, rights, date(until, 12, 31))
    day_after = term_in(country, rights, date(until + 1, 1, 1))
    assert (last_day.status, last_day.until) == ("protected", until), source
    assert day_after.status == "free", source


def test_a_book_of_1923_is_free_from_2019_and_not_from_its_day_in_2018():
    """Hirtle's note: published on 15 March 1923, free on 1 January 2019."""
    book = Rights(published=1923)
    assert term_in("US", book, date(2018, 3, 16)).status == "protected"
    assert term_in("US", book, date(2019, 1, 1)).status == "free"


def test_what_was_published_before_1931_is_free_in_the_united_states_in_2026():
    on = date(2026, 1, 1)
    assert term_in("US", Rights(published=1930), on).status == "free"
    assert term_in("US", Rights(published=1931), on).status == "protected"
