"""Do the letters of a file name its form, or only count?

Programs set rehearsal letters one after another, A, B, C, at double bars or every so many
bars, so that players can say where to begin. Letters of a form say what comes back.

Conventions: letters *count* if they follow the alphabet without a gap and none comes back
after another. Letters of a form may do the same; only the music can tell, and it must
contradict them plainly. Source: common practice of printed parts.
"""

from __future__ import annotations

from itertools import groupby
from string import ascii_uppercase

from kit.form._likeness import Likenesses, bar_contents, sections_to_compare
from kit.form.sections import Form, Section
from kit.form.wording import bars_words, counted
from kit.tune.model import Tune

__all__ = ["contradiction", "letters_count"]

_ALIKE = 0.8
_THE_SAME = 0.999
_FEWEST_BARS = 2
_FEWEST_LETTERS = 4
"""From so many letters at one distance on they may have been set by the number of bars."""


def letters_count(marked: Form) -> bool:
    """Whether a file's labels are letters that may only count: A, B, C …, none coming back.

    The same letter several times in a row is one: a repeat plays it again.
    """
    labels = [section.label for section in marked.sections if not section.is_frame]
    letters = [label for label, _ in groupby(labels)]
    alphabet = list(ascii_uppercase[: len(letters)])
    return len(letters) > 1 and letters == alphabet


def contradiction(played: Tune, marked: Form, found: Form) -> str | None:
    """Say what in the music shows that letters only count; None if they name the form.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    marked : Form
        The sections that its letters make.
    found : Form
        Those found from the music.

    Returns
    -------
    str or None
        A clause, bars by their printed numbers.
    """
    return _same_music(played, marked) or _by_number(played, marked, found)


def _same_music(played: Tune, marked: Form) -> str | None:
    likenesses = Likenesses(bar_contents(played))
    lettered = [section for section in marked.sections if not section.is_frame]
    for place, section in enumerate(lettered):
        for earlier in sections_to_compare(place):
            other = lettered[earlier]
            if other.label == section.label:
                continue
            alike = _likeness(likenesses, other, section)
            if alike >= _ALIKE:
                how = "the music" if alike >= _THE_SAME else "nearly the music"
                return (
                    f"{_bars(played, section)} are marked {section.label}, and are {how} "
                    f"of {other.label} ({_bars(played, other)})"
                )
    return None


def _likeness(likenesses: Likenesses, one: Section, other: Section) -> float:
    """Compare two sections as wholes and by their openings; the worse counts."""
    longer = max(one.bar_count, other.bar_count)
    shorter = min(one.bar_count, other.bar_count)
    if shorter < _FEWEST_BARS or longer - shorter > shorter // 4:
        return 0.0
    half = shorter // 2
    spans = [(section.first, section.last + 1) for section in (one, other)]
    opening = [(start, start + half) for start, _ in spans]
    return min(likenesses.stretches(*opening), likenesses.stretches(*spans))


def _by_number(played: Tune, marked: Form, found: Form) -> str | None:
    """Say that letters stand every so many bars, whatever the music does."""
    letters = len(marked.sections)
    every = {section.bar_count for section in marked.sections[:-1]}
    if letters < _FEWEST_LETTERS or len(every) > 1 or letters > len(marked.labels):
        return None
    firsts = {section.first for section in marked.sections}
    back = [
        section.first
        for section, time in zip(found.sections, found.occurrences, strict=True)
        if time > 1
    ]
    beside = [first for first in back if first not in firsts]
    borders = {section.first for section in found.sections}
    if not beside or 2 * len(firsts & borders) > len(firsts) + 1:
        return None
    where = bars_words(played.bars[first].number for first in beside)
    distance = counted(every.pop(), "bar")
    return f"they stand every {distance}, and the music comes back in {where}"


def _bars(played: Tune, section: Section) -> str:
    return bars_words(
        bar.number
        for bar in played.bars[section.first : section.last + 1]
        if not bar.pickup
    )
