"""What does the teacher state about the rights in a tune?

A *work* is something with a term of its own: the tune (music and words together), and each
arrangement that the lesson uses. The teacher's own setting is no entry: it is the lesson.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["RIGHTS_BASES", "Person", "Rights", "Work", "credit_line"]

RIGHTS_BASES = ("own work", "public domain", "licensed", "permission")


@dataclass(frozen=True, slots=True)
class Person:
    """An author; `died` is the year of death, None where living or not known."""

    name: str
    died: int | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """Something with a term of its own.

    Parameters
    ----------
    what : str
        How sentences call it, such as ``the tune``.
    authors : tuple of Person
        Everyone who made it.
    published : int, optional
        Year of first publication.
    anonymous : bool
        Whether nobody knows who made it (traditional tunes).
    """

    what: str
    authors: tuple[Person, ...] = ()
    published: int | None = None
    anonymous: bool = False


@dataclass(frozen=True, slots=True)
class Rights:
    """The ledger of one lesson.

    Parameters
    ----------
    basis : str
        One of `RIGHTS_BASES`, empty where none is stated.
    statement : str
        The credit line as printed.
    composers, lyricists : tuple of Person
        Who made the tune.
    published : int, optional
        Year in which the tune was first published.
    anonymous : bool
        Whether nobody knows who made the tune.
    arrangements : tuple of Work
        Arrangements by others that the lesson uses.
    licence : str
        Text of the licence, or who gave permission, when and for what.
    countries : tuple of str
        Codes of countries for which the lesson claims what its basis says; empty for the
        usual ones.
    """

    basis: str = ""
    statement: str = ""
    composers: tuple[Person, ...] = ()
    lyricists: tuple[Person, ...] = ()
    published: int | None = None
    anonymous: bool = False
    arrangements: tuple[Work, ...] = ()
    licence: str = ""
    countries: tuple[str, ...] = ()

    @property
    def is_stated(self) -> bool:
        """Whether there is a basis."""
        return bool(self.basis)

    @property
    def works(self) -> tuple[Work, ...]:
        """Everything whose term matters, the tune first."""
        authors = (*self.composers, *self.lyricists)
        tune = Work("the tune", authors, self.published, self.anonymous)
        return (tune, *self.arrangements)


def credit_line(rights: Rights) -> str:
    """Word who made the tune and on what basis it is published.

    Empty where the ledger names nobody and no year.

    Examples
    --------
    >>> credit_line(Rights("public domain", composers=(Person("A. Smith", 1890),)))
    'Music: A. Smith († 1890). Public domain.'
    """
    parts = [
        _names("Music", rights.composers),
        _names("Words", rights.lyricists),
        "Author unknown" if rights.anonymous and not rights.composers else "",
        *(_names("Arrangement", work.authors) for work in rights.arrangements),
        f"First published {rights.published}" if rights.published else "",
    ]
    known = [part for part in parts if part]
    if not known:
        return ""
    basis = {
        "public domain": "Public domain",
        "licensed": rights.licence.strip().rstrip(".") or "Used under licence",
        "permission": "Used by permission",
    }.get(rights.basis, "")
    return ". ".join([*known, basis] if basis else known) + "."


def _names(role: str, people: tuple[Person, ...]) -> str:
    if not people:
        return ""
    names = (f"{p.name} († {p.died})" if p.died else p.name for p in people)
    return f"{role}: {', '.join(names)}"
