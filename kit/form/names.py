"""What does the trade call a form?

Conventions: a name is given only where the bars and the changes bear it out; otherwise
the letters and the number of bars say all there is to say. Source: common practice.
"""

from __future__ import annotations

from kit.form.harmony import Change, changes
from kit.form.sections import Form
from kit.form.wording import counted
from kit.tune.model import Tune

__all__ = ["form_name", "is_blues"]


def form_name(played: Tune, form: Form) -> str:
    """Name the form: ``32-bar song form, AABA`` or ``12-bar blues``.

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
    song_form = form.pattern in ("AABA", "ABAC", "ABCD", "AABC", "ABAB")
    if song_form and bars == 32 and lengths == {8}:
        return f"32-bar song form, {form.pattern}"
    if form.pattern == "AABB" and len(lengths) == 1:
        return f"two strains of {counted(lengths.pop(), 'bar')}, each played twice: AABB"
    return f"{form.pattern}, {counted(bars, 'bar')}"


def is_blues(played: Tune, form: Form) -> bool:
    """Whether every 12 bars go home, to the fourth in bar 5, and home in bar 7."""
    if form.bar_count % 12 or not form.sections:
        return False
    home = played.key.tonic.pitch_class
    full = [index for index, bar in enumerate(played.bars) if not bar.pickup]
    chord_at = {index: _first_root(changes(played, index, index)) for index in full}
    for start in range(0, len(full) - 11, 12):
        roots = [chord_at[full[start + place]] for place in (0, 4, 6)]
        if roots != [home, (home + 5) % 12, home]:
            return False
    return True


def _first_root(chords: tuple[Change, ...]) -> int | None:
    root = chords[0].symbol.root if chords else None
    return None if root is None else root.pitch_class
