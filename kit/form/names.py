"""What does the trade call a form?

Conventions: a name is given only where the bars and the changes bear it out; otherwise
the letters and the number of bars say all there is to say. Source: common practice.
"""

from __future__ import annotations

from kit.form._blues import BluesChorus, blues_chorus
from kit.form.sections import FRAMES, Form
from kit.form.wording import counted, listed
from kit.tune.model import Tune

__all__ = ["blues_of", "form_name", "is_verse_and_refrain"]

_SONG_FORMS = frozenset({"AABA", "ABAC", "ABCD", "AABC", "ABAB", "ABCA"})
_VERSES = frozenset({"verse"})
_REFRAINS = frozenset({"refrain", "chorus"})


def form_name(played: Tune, form: Form) -> str:
    """Name the form: ``32-bar song form, AABA``, ``12-bar blues``, ``verse and refrain``.

    An intro and a coda are told behind the name; its bars and letters are those between.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.
    """
    framed = [
        f"{FRAMES[section.label.casefold()]} of {counted(section.bar_count, 'bar')}"
        for section in form.sections
        if section.is_frame
    ]
    if not framed or len(framed) == len(form.sections):
        return _core_name(played, form)
    return f"{_core_name(played, form.core)}, with {listed(framed)}"


def _core_name(played: Tune, form: Form) -> str:
    bars = form.bar_count
    lengths = {section.bar_count for section in form.sections}
    blues = blues_of(played, form)
    if blues is not None:
        choruses = bars // blues.bars
        return blues.name if choruses == 1 else f"{blues.name}, {choruses} choruses"
    if is_verse_and_refrain(played, form):
        return f"verse and refrain, {counted(bars, 'bar')}"
    if len(form.sections) == 1:
        return f"{bars}-bar tune"
    if form.pattern in _SONG_FORMS and bars in (16, 32) and len(lengths) == 1:
        return f"{bars}-bar song form, {form.pattern}"
    if form.pattern == "AABB" and len(lengths) == 1:
        return f"two strains of {counted(lengths.pop(), 'bar')}, each played twice: AABB"
    return f"{form.pattern}, {counted(bars, 'bar')}"


def blues_of(played: Tune, form: Form) -> BluesChorus | None:
    """Say which blues a form is by its changes, intro and coda left out; None if none."""
    bars = [
        index
        for section in form.core.sections
        for index in range(section.first, section.last + 1)
        if not played.bars[index].pickup
    ]
    # A section that a repeat cuts in two counts a bar more than it has whole ones.
    return blues_chorus(played, bars) if len(bars) == form.core.bar_count else None


def is_verse_and_refrain(played: Tune, form: Form) -> bool:
    """Whether the labels say so, or the words: several verses, then one refrain for all."""
    names = [section.label.casefold() for section in form.sections]
    if any(name in _VERSES for name in names):
        return any(name in _REFRAINS for name in names)
    sung = {
        label: _verses(played, form, label) for label in form.labels if len(form.labels) > 1
    }
    counts = list(sung.values())
    return len(counts) > 1 and counts[0] > 1 and counts[-1] == 1


def _verses(played: Tune, form: Form, label: str) -> int:
    """How many verses are set to all the sung notes of a label's first section."""
    section = next(s for s in form.sections if s.label == label)
    bars = played.bars[section.first : section.last + 1]
    sung = [len(note.lyrics) for bar in bars for note in bar.notes if any(note.lyrics)]
    return min(sung, default=0) if len(set(sung)) < 2 else 0
