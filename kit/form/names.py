"""What does the trade call a form?

Conventions: a name is given only where the bars and the changes bear it out; otherwise
the letters and the number of bars say all there is to say. Source: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

from kit.form.sections import Form
from kit.form.wording import counted
from kit.tune.model import ChordEvent, Tune

__all__ = ["form_name", "is_blues", "is_verse_and_refrain"]

_SONG_FORMS = frozenset({"AABA", "ABAC", "ABCD", "AABC", "ABAB", "ABCA"})
_VERSES = frozenset({"verse"})
_REFRAINS = frozenset({"refrain", "chorus"})


def form_name(played: Tune, form: Form) -> str:
    """Name the form: ``32-bar song form, AABA``, ``12-bar blues``, ``verse and refrain``.

    Parameters
    ----------
    played : Tune
        The unfolded tune.
    form : Form
        Its sections.
    """
    bars = form.bar_count
    lengths = {section.bar_count for section in form.sections}
    if is_blues(played, form):
        choruses = bars // 12
        return "12-bar blues" if choruses == 1 else f"12-bar blues, {choruses} choruses"
    if is_verse_and_refrain(played, form):
        return f"verse and refrain, {counted(bars, 'bar')}"
    if len(form.sections) == 1:
        return f"{bars}-bar tune"
    if form.pattern in _SONG_FORMS and bars in (16, 32) and len(lengths) == 1:
        return f"{bars}-bar song form, {form.pattern}"
    if form.pattern == "AABB" and len(lengths) == 1:
        return f"two strains of {counted(lengths.pop(), 'bar')}, each played twice: AABB"
    return f"{form.pattern}, {counted(bars, 'bar')}"


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


def is_blues(played: Tune, form: Form) -> bool:
    """Whether every 12 bars go home, to the fourth in bar 5, and home in bar 7.

    Only the roots count, so a minor blues is one too.

    Parameters
    ----------
    played : Tune
        The unfolded tune; its own key is home.
    form : Form
        Its sections; their bars must be a multiple of 12.
    """
    if form.bar_count % 12 or not form.sections:
        return False
    home = played.key.tonic.pitch_class
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    # A tune of bars cut in two by repeats has fewer whole ones than its form counts.
    if len(full) < 12:
        return False
    chords = played.all_chords_in_force()
    for start in range(0, len(full) - 11, 12):
        roots = [_first_root(chords[full[start + place]]) for place in (0, 4, 6)]
        if roots != [home, (home + 5) % 12, home]:
            return False
    return True


def _first_root(chords: Sequence[ChordEvent]) -> int | None:
    root = chords[0].symbol.root if chords else None
    return None if root is None else root.pitch_class
