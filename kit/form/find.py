"""Which sections does the tune have?

Section marks in the notation, or ranges in the lesson file (`kit.form.ranges`), are the
truth, and reported where the music disagrees. Without them the sections are found by
comparing bars (`kit.form._search`).

Conventions: the tune is unfolded (`kit.tune.unfold`); sections point at its bars by index.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise

from kit.form._likeness import Likenesses, bar_contents, sections_to_compare
from kit.form._marks import marked_starts, pickup_before
from kit.form._search import found_form
from kit.form.sections import Form, Section
from kit.form.wording import bars_words, ordinal
from kit.tune.model import Tune

__all__ = ["find_form", "form_disagreement"]

_UNLIKE = 0.4
_EQUAL = 0.95


def find_form(played: Tune) -> Form:
    """Give the sections of an unfolded tune, from its marks or else by comparison.

    Parameters
    ----------
    played : Tune
        The tune with its repeats written out.

    Returns
    -------
    Form
        `source` is ``marks`` or ``found``.
    """
    starts = marked_starts(played)
    return _form_from_starts(played, starts) if starts else found_form(played)


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
    likenesses = Likenesses(bar_contents(played))
    sections = form.sections
    spans = [(section.first, section.last + 1) for section in sections]
    for place, section in enumerate(sections):
        for earlier in sections_to_compare(place):
            other = sections[earlier]
            least = _UNLIKE if section.label == other.label else _EQUAL
            likeness = likenesses.stretches(spans[earlier], spans[place], at_least=least)
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
