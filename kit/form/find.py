"""Which sections does the tune have?

Section marks in the notation, or ranges in the lesson file (`kit.form.ranges`), are the
truth, and reported where the music disagrees. Without them, and where the marks are
rehearsal letters that only count, the sections are found by comparing bars
(`kit.form._search`).

Conventions: the tune is unfolded (`kit.tune.unfold`); sections point at its bars by index.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from kit.form._letters import contradiction, letters_count
from kit.form._likeness import (
    Likenesses,
    bar_contents,
    best_shift,
    sections_to_compare,
)
from kit.form._marks import marked_starts, pickup_before
from kit.form._search import found_form
from kit.form.sections import Form, Section
from kit.form.wording import bars_words, listed, ordinal
from kit.tune.model import Tune

__all__ = ["Proposal", "find_form", "form_disagreement", "form_proposals"]

_UNLIKE = 0.4
_EQUAL = 0.95


@dataclass(frozen=True, slots=True)
class Proposal:
    """A form that the file or its music suggests, and why, in a sentence."""

    form: Form
    reason: str


def find_form(played: Tune) -> Form:
    """Give the sections of an unfolded tune, from its marks or else by comparison.

    Parameters
    ----------
    played : Tune
        The tune with its repeats written out.

    Returns
    -------
    Form
        The first of `form_proposals`; `source` is ``marks`` or ``found``.
    """
    return form_proposals(played)[0].form


@lru_cache(maxsize=8)
def form_proposals(played: Tune) -> tuple[Proposal, ...]:
    """Give the form that fits best, and what the file says where that is something else.

    Marks name the form. Only letters that a program has set one after another (A, B, C …)
    say nothing about it; where one of them stands over music that has a letter already,
    the form found from the music comes first.

    Parameters
    ----------
    played : Tune
        The tune with its repeats written out.

    Returns
    -------
    tuple of Proposal
        One, or two where the file's letters only count.
    """
    starts = marked_starts(played)
    if not starts:
        found = found_form(played)
        reason = "The file marks no sections; these were found by comparing the bars."
        return (Proposal(found, reason),)
    marked = _form_from_starts(played, starts)
    own = (Proposal(marked, "The file marks its sections."),)
    if not letters_count(marked):
        return own
    found = found_form(played, marks=frozenset(first for first, _ in starts))
    against = contradiction(played, marked, found)
    if against is None or _letters(found) == _letters(marked):
        return own
    letters = listed(marked.labels)
    return (
        Proposal(found, f"The file's letters {letters} only count: {against}."),
        Proposal(
            marked,
            f"The file has the letters {letters}; taken at their word, each new letter is "
            "new music.",
        ),
    )


def _letters(form: Form) -> tuple[tuple[int, int], ...]:
    """Give what a form says, whatever its sections are called."""
    return tuple((form.labels.index(s.label), s.first) for s in form.sections)


def _form_from_starts(played: Tune, starts: Sequence[tuple[int, str]]) -> Form:
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    known = frozenset(full)
    labelled = [(first, label) for first, label in starts if first in known]
    if full and (not labelled or labelled[0][0] != full[0]):
        taken = {label for _, label in labelled}
        # Bars before the first mark are a section too; often it is A that goes unmarked.
        labelled.insert(0, (full[0], "A" if "A" not in taken else "Intro"))
    edges = [first for first, _ in labelled] + [len(played.bars)]
    sections = []
    for (first, label), (_, end) in zip(labelled, pairwise(edges), strict=True):
        last = full[bisect_left(full, end) - 1]
        sections.append(Section(label, first, last, pickup_before(played, first)))
    return Form(tuple(sections), "marks")


def form_disagreement(played: Tune, form: Form) -> str | None:
    """Say where given sections and the music itself disagree, None if they agree.

    Two things are reported: equal labels over music with little in common, and different
    labels over the same music.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Sections from marks or a lesson file.

    Returns
    -------
    str or None
        One sentence about the first disagreement, bars by their printed numbers.
    """
    contents = bar_contents(played)
    likenesses = Likenesses(contents)
    sections = form.sections
    spans = [(section.first, section.last + 1) for section in sections]
    for place, section in enumerate(sections):
        for earlier in sections_to_compare(place):
            other = sections[earlier]
            same = section.label == other.label
            least = _UNLIKE if same else _EQUAL
            likeness = likenesses.stretches(spans[earlier], spans[place], at_least=least)
            if same and likeness < _UNLIKE:
                # A last round may be lifted into another key and still be the same section.
                there, here = (contents[slice(*spans[k])] for k in (earlier, place))
                step = best_shift(there, here)
                likeness = likenesses.stretches(
                    spans[earlier], spans[place], shift=step, at_least=least
                )
            if section.label == other.label and likeness < _UNLIKE:
                return (
                    f"{_capital(_bars(played, section))} are called {section.label}, and "
                    f"have little in common with the {ordinal(form.occurrence(earlier))} "
                    f"{other.label} ({_bars(played, other)})."
                )
            alike = likeness >= _EQUAL and section.bar_count == other.bar_count
            if section.label != other.label and alike:
                return (
                    f"{_capital(_bars(played, section))} are called {section.label}, and "
                    f"are the same music as {other.label} ({_bars(played, other)})."
                )
    return None


def _bars(played: Tune, section: Section) -> str:
    return bars_words(
        bar.number
        for bar in played.bars[section.first : section.last + 1]
        if not bar.pickup
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
