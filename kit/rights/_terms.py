"""How long is a work protected in a country, and what follows on a given day?

Conventions
-----------
* A term runs to the end of a calendar year: `Term.until` is the last protected year.
* What cannot be computed from what is stated is *unknown*, never guessed.
* The terms are the usual ones, the longest that apply: earlier ends by missing notices or
  renewals in the United States, the comparison of terms (Berne Convention, article 7(8)),
  war extensions and editions of unpublished works are left to a lawyer.

Sources
-------
* United States: 17 U.S.C. 302 (life and 70 years; anonymous: 95 years from publication),
  303(a) (first published 1978 to 2002: not before the end of 2047), 304 (95 years for
  works published before 1978), 305 (end of the calendar year); U.S. Copyright Office,
  Circulars 1, 15A and 15T.
* European Union: Directive 2006/116/EC, articles 1(1) to 1(3) and 8, and article 1(7) as
  inserted by Directive 2011/77/EU (music with words: the last of both authors).
* United Kingdom: Copyright, Designs and Patents Act 1988, sections 12 and 10A.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from kit.rights.countries import USUAL, Country, country
from kit.rights.ledger import Rights, Work

__all__ = ["Term", "term_in", "terms"]

Status = Literal["free", "protected", "unknown"]

_YEARS_FROM_PUBLICATION = 95
_YEARS_FROM_DEATH = 70
_ACT_OF_1976_IN_FORCE = 1978
_LAST_GUARANTEED_PUBLICATION = 2002
_GUARANTEED_UNTIL = 2047


@dataclass(frozen=True, slots=True)
class Term:
    """What follows in one country.

    Parameters
    ----------
    country : Country
        Where.
    status : "free", "protected" or "unknown"
        On the day asked for.
    until : int or None
        The last protected year, past or to come; None where it is unknown.
    reasons : tuple of str
        A clause for each work: from which years the term follows, or what is missing.
    """

    country: Country
    status: Status
    until: int | None
    reasons: tuple[str, ...]

    def __str__(self) -> str:
        """Say it in a sentence."""
        where, why = self.country.name, "; ".join(self.reasons)
        if self.status == "protected":
            return f"Protected in {where} to the end of {self.until} ({why})."
        if self.status == "free":
            assert self.until is not None
            return (
                f"In the public domain in {where} since 1 January {self.until + 1} ({why})."
            )
        return f"Not known for {where}: {why}."


def terms(rights: Rights, on: date) -> tuple[Term, ...]:
    """Give the term in each country that the ledger names, or in the usual ones.

    Parameters
    ----------
    rights : Rights
        What is stated.
    on : date
        The day to judge.
    """
    return tuple(term_in(code, rights, on) for code in rights.countries or USUAL)


def term_in(code: str, rights: Rights, on: date) -> Term:
    """Give the term in one country: that of the work protected longest.

    Raises
    ------
    ValueError
        If the country's terms are not known.
    """
    where = country(code)
    found = [_RULES[where.rule](work) for work in rights.works]
    reasons = tuple(reason for _, reason in found)
    known = [until for until, _ in found if until is not None]
    latest = max(known, default=None)
    # One work that is protected decides, even where nothing is known of another.
    if latest is not None and on.year <= latest:
        return Term(where, "protected", latest, reasons)
    if len(known) < len(found):
        return Term(where, "unknown", None, reasons)
    return Term(where, "free", latest, reasons)


def _united_states(work: Work) -> tuple[int | None, str]:
    year = work.published
    if year is None:
        return None, f"the year in which {work.what} was first published is missing"
    if year < _ACT_OF_1976_IN_FORCE or work.anonymous:
        reason = f"{work.what}: published {year}, and {_YEARS_FROM_PUBLICATION} years"
        return year + _YEARS_FROM_PUBLICATION, reason
    until, reason = _life_and_seventy(work)
    if until is not None and year <= _LAST_GUARANTEED_PUBLICATION:
        if until < _GUARANTEED_UNTIL:
            reason = f"{work.what}: published {year}, and not before {_GUARANTEED_UNTIL}"
        until = max(until, _GUARANTEED_UNTIL)
    return until, reason


def _life_and_seventy(work: Work) -> tuple[int | None, str]:
    if work.anonymous:
        if work.published is None:
            return None, f"the year in which {work.what} was first published is missing"
        until = work.published + _YEARS_FROM_DEATH
        return until, (
            f"{work.what}: author unknown, published {work.published}, and "
            f"{_YEARS_FROM_DEATH} years"
        )
    if not work.authors:
        return None, f"who made {work.what} is missing"
    alive = [person.name for person in work.authors if person.died is None]
    if alive:
        return None, f"the year of death is missing, if there is one: {', '.join(alive)}"
    # Joint authors: from the last death (17 U.S.C. 302(b); 2006/116/EC, article 1(2)).
    last = max(work.authors, key=lambda person: person.died or 0)
    assert last.died is not None
    until = last.died + _YEARS_FROM_DEATH
    return (
        until,
        f"{work.what}: {last.name} died {last.died}, and {_YEARS_FROM_DEATH} years",
    )


_RULES: dict[str, Callable[[Work], tuple[int | None, str]]] = {
    "united-states": _united_states,
    "life-and-seventy": _life_and_seventy,
}
