"""What should the teacher be told about the rights in a lesson?

A contradiction between the stated basis and the ledger's own years stops free material; a
difference between countries, or a missing year, is a warning. None of it is legal advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from kit.rights._terms import Term, terms
from kit.rights.ledger import Rights

__all__ = ["REMINDER", "Advice", "advice", "rights_words"]

REMINDER = "This is a reminder, not legal advice."


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to act on: a short name, a clause without a full stop, and what to do."""

    code: str
    severity: Literal["error", "warning"]
    text: str
    remedy: str


def advice(rights: Rights, on: date, *, gives_away: bool) -> tuple[Advice, ...]:
    """Say what is missing or contradictory.

    Parameters
    ----------
    rights : Rights
        What is stated.
    on : date
        The day to judge.
    gives_away : bool
        Whether the lesson gives files away; only then does anything stop it.
    """
    return tuple(_advice(rights, on, "error" if gives_away else "warning", gives_away))


def _advice(
    rights: Rights, on: date, worst: Literal["error", "warning"], gives_away: bool
) -> Iterator[Advice]:
    if not rights.is_stated:
        yield Advice(
            "no-rights",
            worst,
            "no basis is stated for publishing this tune"
            + (", and the lesson gives files away" if gives_away else ""),
            'add [rights] with basis = "own work", "public domain", "licensed" or '
            '"permission" (a reminder, not legal advice)',
        )
    elif rights.basis in ("licensed", "permission"):
        if not rights.licence.strip():
            yield Advice(
                "no-licence",
                "warning",
                f'the basis is "{rights.basis}", and nothing says by whom and for what',
                "add licence = … with the licence's text, or who gave permission and when",
            )
    elif rights.basis == "public domain":
        yield from _public_domain(rights, terms(rights, on), worst)


def _public_domain(
    rights: Rights, found: tuple[Term, ...], worst: Literal["error", "warning"]
) -> Iterator[Advice]:
    protected = [term for term in found if term.status == "protected"]
    unknown = [term for term in found if term.status == "unknown"]
    free = [term for term in found if term.status == "free"]
    remedy = "correct the years, name only countries where it holds, or ask a lawyer"
    if protected and (rights.countries or not (free or unknown)):
        yield Advice(
            "rights-contradict",
            worst,
            'the basis is "public domain", and the years stated say otherwise: '
            + _joined(protected),
            f"{remedy} (a reminder, not legal advice)",
        )
    elif protected:
        yield Advice(
            "rights-differ",
            "warning",
            f"countries differ: {_joined([*protected, *free])}",
            "name the countries where you offer it with countries = […] "
            "(a reminder, not legal advice)",
        )
    if unknown:
        yield Advice(
            "rights-unknown",
            "warning",
            f"whether the tune is in the public domain cannot be computed: "
            f"{_joined(unknown)}",
            "add the years you know: published, died; or anonymous = true",
        )


def _joined(found: Iterable[Term]) -> str:
    sentences = [str(term).rstrip(".") for term in found]
    return "; ".join(text[:1].lower() + text[1:] for text in sentences)


def rights_words(rights: Rights, on: date) -> tuple[str, ...]:
    """Say what follows in each country on a day, in sentences, the reminder last.

    Terms are told only where something is stated that they could follow from.

    Parameters
    ----------
    rights : Rights
        What the lesson states.
    on : date
        The day to judge.
    """
    stated = any(work.authors or work.published for work in rights.works)
    lines = [f"Stated basis: {rights.basis}."] if rights.basis else ["No basis is stated."]
    if rights.licence:
        lines.append(f"Licence or permission: {rights.licence.strip().rstrip('.')}.")
    if stated and rights.basis != "own work":
        lines.extend(str(term) for term in terms(rights, on))
    return (*lines, REMINDER)
